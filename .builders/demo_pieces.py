"""The demo studio's work: recipes, two-tone designs, what was cast of them, kept swatches, defects."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any

import numpy as np
from demo_batches import (
    CURING,
    TODAY,
    WASTE,
    Cast,
    cast_records,
    half_weighed_records,
    loads_of,
    planned_records,
)
from demo_shelf import PLANTER, TRAY
from demo_tiles import BY, WORLD_SEED, Loads, cast, world

from colormatch.library import DefectRecord, DesignRecord, Piece, RecipeRecord, Record, ShadeRecord, Swatch

# uid, name, cement, loads, mould, tags
_RED, _YELLOW, _BLACK, _BROWN = "red-iron-oxide", "yellow-iron-oxide", "black-iron-oxide", "brown-iron-oxide"
_GREEN, _BLUE, _WHITE = "chromium-oxide-green", "ultramarine-blue", "titanium-white"
_RECIPES: list[tuple[str, str, str, Loads, str, tuple[str, ...]]] = [
    ("rust", "Rust", "white-cement", {_RED: 0.018, _YELLOW: 0.008}, TRAY, ("warm",)),
    ("moss", "Moss", "white-cement", {_GREEN: 0.028, _YELLOW: 0.009, _BLACK: 0.002}, PLANTER, ("green",)),
    ("fog", "Fog", "white-cement", {_BLACK: 0.004, _WHITE: 0.012}, TRAY, ("neutral",)),
    ("oat", "Oat", "white-cement", {_YELLOW: 0.006, _BROWN: 0.002}, PLANTER, ("warm", "pale")),
    ("storm", "Storm", "white-cement", {_BLUE: 0.024, _BLACK: 0.005}, TRAY, ("blue",)),
    ("peat", "Peat", "grey-cement", {_BROWN: 0.022, _BLACK: 0.006}, PLANTER, ("dark",)),
]
_BY_UID = {uid: (name, cement, loads) for uid, name, cement, loads, *_ in _RECIPES}
# uid, name, pattern, form, mould uid, fill [g], (recipe, share) twice
_DESIGNS = [
    ("tide-line-tray", "Tide-line tray", "split", "tray", TRAY, 412.0, (("fog", 0.55), ("storm", 0.45))),
    ("dipped-planter", "Dipped planter", "dipped", "cup", PLANTER, 655.0, (("oat", 0.65), ("peat", 0.35))),
]
TWO_TONE = "tide-line-tray"


def spectrum(recipe: str, state: str) -> np.ndarray:
    """The true reflectance (31,) of a piece of a recipe, cast as written."""
    _, cement, loads = _BY_UID[recipe]
    return world().reflectance(loads, cement, state)


def pieces() -> list[Record]:
    """Recipes, designs, swatches, what was cast with its weighings and weights, measured shades, defects."""
    return [*_recipes(), *_designs(), *_swatches(), *_at_the_bench(), *_first_pieces(), *_measured(), *_defects()]


def _recipes() -> list[Record]:
    """Each was made for a shade near what it gives: the wish of an invented customer."""
    records: list[Record] = []
    rng = np.random.default_rng([WORLD_SEED, 1])
    for uid, name, cement, loads, _, tags in _RECIPES:
        lightness, a, b = (round(float(x), 1) for x in world().lab(loads, cement) + rng.normal(0, 0.8, 3))
        records.append(
            RecipeRecord(uid=uid, name=name, cement_uid=cement, loads=loads, wanted_lab=(lightness, a, b),
                         made_on=date(2026, 10, 1), tags=tags)
        )  # fmt: skip
    return records


def _designs() -> list[Record]:
    return [
        DesignRecord(
            uid=uid, name=name, mould_uid=mould, recipes=tuple(recipe for recipe, _ in tones),
            content=design_content(pattern, form, name_of_mould(mould), fill_g, tones), made_on=date(2026, 10, 12),
            tags=("two-tone",),
        )
        for uid, name, pattern, form, mould, fill_g, tones in _DESIGNS
    ]  # fmt: skip


def name_of_mould(uid: str) -> str:
    """The name of a mould on the shelf."""
    return {TRAY: "Oblong trinket tray", PLANTER: "Bud planter"}[uid]


def design_content(
    pattern: str, form: str, mould: str, fill_g: float, tones: tuple[tuple[str, float], ...]
) -> dict[str, Any]:
    """A design as plain content: the fields of colormatch.design's Design, Tone and Mould."""
    return {
        "pattern": pattern,
        "form": form,
        "tones": [{"base": _BY_UID[r][1], "loads": dict(_BY_UID[r][2]), "share": share} for r, share in tones],
        "mould": {"name": mould, "form": form, "fill_g": fill_g},
        "pieces": 2,
        "waste": WASTE,
    }


# --- at the bench ---------------------------------------------------------------------------------------


def _one(recipe: str) -> tuple[tuple[str, str, Loads, float], ...]:
    return ((recipe, *_BY_UID[recipe][1:], 1.0),)


def _two() -> tuple[tuple[str, str, Loads, float], ...]:
    return tuple((recipe, *_BY_UID[recipe][1:], share) for recipe, share in _DESIGNS[0][-1])


FIRST_TWO_TONE = Cast("tide-line-trays", "Tide-line trays", _two(), TRAY, 412.0, 2, days_ago=52, design_uid=TWO_TONE,
                      measured=(37, 37), sealed=(38, 38), sold=(45,))  # fmt: skip
RUST = Cast("rust-trays", "Rust trays", _one("rust"), TRAY, 412.0, 3, days_ago=38, recipe_uid="rust",
            swatch_uid="swatch-rust", weights=19, measured=(24, 24, 24), sealed=(25, 25, 25), sold=(32,),
            notes="Gloves, goggles and mask worn. Slurry let settle in a bucket, none down the drain.")  # fmt: skip
MOSS = Cast("moss-planters", "Moss planters", _one("moss"), PLANTER, 655.0, 2, days_ago=17, recipe_uid="moss",
            swatch_uid="swatch-moss", weights=13, dried=2, measured=(16,))  # fmt: skip
SECOND_TWO_TONE = Cast("tide-line-trays-2", "Tide-line trays, second", _two(), TRAY, 412.0, 2, days_ago=10,
                       design_uid=TWO_TONE, weights=6)  # fmt: skip
STORM = Cast("storm-trays", "Storm trays", _one("storm"), TRAY, 412.0, 2, days_ago=1.1, recipe_uid="storm",
             swatch_uid="swatch-storm")  # fmt: skip
OAT = Cast("oat-planters", "Oat planters", _one("oat"), PLANTER, 655.0, 2, days_ago=0.65, recipe_uid="oat",
           swatch_uid="swatch-oat")  # fmt: skip
PEAT = Cast("peat-planters", "Peat planters", _one("peat"), PLANTER, 655.0, 1, days_ago=0.7, recipe_uid="peat",
            swatch_uid="swatch-peat")  # fmt: skip


def _at_the_bench() -> list[Record]:
    """Batches and pieces in every place of life."""
    was_cast = (FIRST_TWO_TONE, RUST, MOSS, SECOND_TWO_TONE, STORM)
    return [
        *(record for each in was_cast for record in cast_records(each)),
        *half_weighed_records(OAT),
        *planned_records(PEAT),
    ]


# --- kept swatches ----------------------------------------------------------------------------------------

_FIRST_DAYS_AGO = 52.0  # the first pieces were cast one by one, without a sheet
_FIRST_DAYS = {"demould": 1, "dry": 29, "wet": 29, "sealed": 32}


def _swatches() -> list[Record]:
    """A swatch of every recipe; casts of it add pieces."""
    return [
        Swatch(
            uid=f"swatch-{uid}", name=f"{name} {_what(mould)}", cement_uid=cement, recipe_uid=uid, mould_uid=mould,
            made_on=_first_day(uid), tags=(*tags, "finished"),
        )
        for uid, name, cement, _, mould, tags in _RECIPES
    ]  # fmt: skip


def _what(mould: str) -> str:
    return "tray" if mould == TRAY else "planter"


def _first_day(recipe: str) -> date:
    days_ago = RUST.days_ago if recipe == "rust" else _FIRST_DAYS_AGO
    return (TODAY - timedelta(days=days_ago)).date()


def _first_pieces() -> list[Record]:
    """One of every recipe but rust, which was cast as a batch."""
    found: list[Record] = []
    for uid, name, _, _, mould, _ in _RECIPES:
        if uid == "rust":
            continue
        at = TODAY + timedelta(hours=10) - timedelta(days=_FIRST_DAYS_AGO)
        out = CURING.demould_due(at) + timedelta(minutes=30)
        found.append(
            Piece(
                uid=f"first-{uid}", name=f"{name} {_what(mould)}, first", swatch_uid=f"swatch-{uid}", recipe_uid=uid,
                cast_at=at, demould_due_at=CURING.demould_due(at), demoulded_at=out,
                moist_until=CURING.moist_until(out), sealed_at=at + timedelta(days=30), sealer="acrylic, water-based",
                mould_finish="matte silicone", sold_on=(at + timedelta(days=40)).date(), conditions={"locked": True},
            )
        )  # fmt: skip
    return found


def _measured() -> list[Record]:
    """What was measured of pieces; those of a batch were cast from what was really weighed."""
    found: list[Record] = []
    for uid, _, cement, loads, *_ in _RECIPES:
        if uid != "rust":
            shades = cast(f"piece {uid}", loads, cement, _FIRST_DAYS)
            found += _shades(shades, f"first-{uid}", _first_day(uid), _FIRST_DAYS, f"swatch-{uid}")
    days = {"demould": 1, "dry": 24, "wet": 24, "sealed": 27}
    for number, name in enumerate(("piece rust", "piece rust 2", "piece rust 3"), start=1):
        states: Iterable[str] = days if number == 1 else ("dry",)
        shades = cast(name, _BY_UID["rust"][2], "white-cement", states, weighed=loads_of(RUST))
        found += _shades(shades, f"{RUST.uid}-{number}", RUST.at.date(), days, "swatch-rust")
    shades = cast("piece moss 2", _BY_UID["moss"][2], "white-cement", ("dry",), weighed=loads_of(MOSS))
    found += _shades(shades, f"{MOSS.uid}-1", MOSS.at.date(), {"dry": 16}, "swatch-moss")
    for number, (recipe, cement, loads, _) in enumerate(_two(), start=1):
        shades = cast(f"tide {recipe}", loads, cement, ("dry",), weighed=loads_of(FIRST_TWO_TONE, number))
        first = FIRST_TWO_TONE
        found += _shades(shades, f"{first.uid}-1", first.at.date(), {"dry": 37}, f"swatch-{recipe}", bowl=str(number))
    return found


def _shades(
    shades: dict[str, Any], piece: str, cast_on: date, days: dict[str, int], swatch: str, bowl: str = ""
) -> list[Record]:
    which = {"bowl": bowl} if bowl else {}
    return [
        ShadeRecord.of(
            shade, uid="-".join(filter(None, (piece, bowl, state))), piece_uid=piece, swatch_uid=swatch, state=state,
            measured_on=cast_on + timedelta(days[state]), provenance={"kind": "measured", "by": BY, **which},
        )
        for state, shade in shades.items()
    ]  # fmt: skip


def _defects() -> list[Record]:
    return [
        DefectRecord(uid="defect-bloom", name="bloom", swatch_uid="swatch-peat", seen_on=date(2026, 11, 10),
                     notes="White veil on the foot after it stood on a damp board; brushed off dry, came back once."),
        DefectRecord(uid="defect-pinholes", name="pinholes", batch_uid="rust-trays", seen_on=RUST.demoulded.date(),
                     notes="Tray 3 only: poured last, not tapped."),
    ]  # fmt: skip
