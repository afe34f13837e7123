"""The demo studio's work: recipes, two-tone designs, two batches at the bench, finished swatches, defects."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
from demo_shelf import PLANTER, SCALE_STEP_G, TRAY, WATER_PER_CEMENT, lot_in_use
from demo_tiles import LOT_IN_USE, WORLD_SEED, Loads, cast, shade_records, world

from colormatch.library import (
    BatchRecord,
    DefectRecord,
    DesignRecord,
    DryingWeight,
    RecipeRecord,
    Record,
    Swatch,
    Weighing,
)

WASTE = 0.1
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
FRESH = "rust"


def spectrum(recipe: str, state: str) -> np.ndarray:
    """The true reflectance (31,) of a piece of a recipe, cast as written."""
    _, cement, loads = _BY_UID[recipe]
    return world().reflectance(loads, cement, state)


def pieces() -> list[Record]:
    """Recipes, designs, batches with their weighings and drying weights, swatches with shades, defects."""
    return [*_recipes(), *_designs(), *_rust_batch(), *_two_tone_batch(), *_swatches(), *_defects()]


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


def _weighings(batch: str, bowl: str, recipe: str, mix_g: float, at: datetime) -> tuple[list[Record], dict[str, float]]:
    """One bowl's weighings, planned to the scale's step and read with its slips; what was weighed as loads."""
    _, cement, loads = _BY_UID[recipe]
    rng = np.random.default_rng([WORLD_SEED, len(batch), len(recipe)])
    cement_g = mix_g / (1 + WATER_PER_CEMENT + sum(loads.values()))
    planned = {name: load * cement_g for name, load in loads.items()}
    planned = {cement: cement_g, **planned, "water": WATER_PER_CEMENT * cement_g}
    records: list[Record] = []
    weighed: dict[str, float] = {}
    for number, (material, grams) in enumerate(planned.items()):
        step = 1.0 if material in (cement, "water") else SCALE_STEP_G
        plan = round(round(grams / step) * step, 1)
        read = round(plan + step * int(rng.integers(-1, 2)) * (material != "water"), 1)
        weighed[material] = read
        lot = {"cement_lot_uid": LOT_IN_USE.get(material)}
        if material in loads:
            lot = {"pigment_lot_uid": lot_in_use(material)}
        records.append(
            Weighing(uid=f"{batch}-{bowl}-{number + 1}", batch_uid=batch, material=material, bowl=bowl, planned_g=plan,
                     weighed_g=read, weighed_at=at + timedelta(minutes=2 * number), **lot)
        )  # fmt: skip
    return records, {name: weighed[name] / weighed[cement] for name in loads}


def _rust_loads() -> dict[str, float]:
    return _weighings("rust-trays", "one", "rust", 412 * 3 * (1 + WASTE), datetime(2026, 10, 20, tzinfo=UTC))[1]


def _rust_batch() -> list[Record]:
    at = datetime(2026, 10, 20, 9, 5, tzinfo=UTC)
    weighings, _ = _weighings("rust-trays", "one", "rust", 412 * 3 * (1 + WASTE), at)
    batch = BatchRecord(
        uid="rust-trays", name="Rust trays, October", recipe_uid="rust", mould_uid=TRAY, made_on=at.date(), pieces=3,
        cement_g=_cement_of(weighings), stage="sealed", drawn_down=True,
        notes="Gloves, goggles and mask worn. Slurry let settle in a bucket, none down the drain.",
    )  # fmt: skip
    drying = _drying("rust-trays", "tray 1", at + timedelta(hours=26), dry_g=371.6, water_g=39.4, days=4.6, count=19)
    return [batch, *weighings, *drying]


def _two_tone_batch() -> list[Record]:
    at = datetime(2026, 11, 17, 13, 30, tzinfo=UTC)
    mix_g = 412 * 2 * (1 + WASTE)
    first, _ = _weighings("tide-line-trays", "fog", "fog", 0.55 * mix_g, at)
    second, _ = _weighings("tide-line-trays", "storm", "storm", 0.45 * mix_g, at + timedelta(minutes=15))
    batch = BatchRecord(
        uid="tide-line-trays", name="Tide-line trays", design_uid=TWO_TONE, mould_uid=TRAY, made_on=at.date(), pieces=2,
        cement_g=_cement_of([*first, *second]), stage="cast", drawn_down=True,
    )  # fmt: skip
    drying = _drying(
        "tide-line-trays", "tray 1", at + timedelta(hours=24), dry_g=374.2, water_g=38.1, days=5.2, count=7
    )
    return [batch, *first, *second, *drying]


def _cement_of(weighings: list[Record]) -> float:
    return sum(each.weighed_g or 0.0 for each in weighings if isinstance(each, Weighing) and each.cement_lot_uid)


def _drying(
    batch: str, piece: str, start: datetime, *, dry_g: float, water_g: float, days: float, count: int
) -> list[Record]:
    """Weights once a day: exponential drying, read on a scale of 0.1 g at hours that are never quite the same."""
    rng = np.random.default_rng([WORLD_SEED, len(batch), count])
    records: list[Record] = []
    for number in range(count):
        hours = round(24.0 * number + float(rng.uniform(-2, 2)) * (number > 0), 1)
        mass = dry_g + water_g * np.exp(-hours / 24 / days) + float(rng.normal(0, 0.05))
        records.append(
            DryingWeight(uid=f"{batch}-day-{number + 1:02d}", batch_uid=batch, piece=piece, hours=hours,
                         weighed_at=start + timedelta(hours=hours), mass_g=round(float(mass), 1))
        )  # fmt: skip
    return records


# --- finished pieces --------------------------------------------------------------------------------------


def _swatches() -> list[Record]:
    """A swatch of every recipe; the one from the batch was cast from what was really weighed."""
    records: list[Record] = []
    weighed: Mapping[str, Mapping[str, float]] = {"rust": _rust_loads()}
    for uid, name, cement, loads, mould, tags in _RECIPES:
        made_on = date(2026, 10, 20) if uid == "rust" else date(2026, 10, 6)
        what = "tray" if mould == TRAY else "planter"
        swatch = Swatch(
            uid=f"swatch-{uid}", name=f"{name} {what}",
            cement_uid=cement, recipe_uid=uid, mould_uid=mould, made_on=made_on,
            batch_uid="rust-trays" if uid == "rust" else None, tags=(*tags, "finished"),
        )  # fmt: skip
        shades = cast(f"piece {uid}", loads, cement, ("demould", "dry", "wet", "sealed"), weighed=weighed.get(uid))
        records += [swatch, *shade_records(shades, made_on, swatch_uid=swatch.uid)]
    return records


def _defects() -> list[Record]:
    return [
        DefectRecord(uid="defect-bloom", name="bloom", swatch_uid="swatch-peat", seen_on=date(2026, 10, 30),
                     notes="White veil on the foot after it stood on a damp board; brushed off dry, came back once."),
        DefectRecord(uid="defect-pinholes", name="pinholes", batch_uid="rust-trays", seen_on=date(2026, 10, 21),
                     notes="Tray 3 only: poured last, not tapped."),
    ]  # fmt: skip
