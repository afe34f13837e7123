"""The demo studio's test tiles: cast, weighed and photographed in a simulated studio, every reading with noise."""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from functools import cache

import numpy as np

from colormatch.library import Record, ShadeRecord, TileRecord
from colormatch.shade import Shade
from tests.worlds.casting import World
from tests.worlds.materials import Array

WORLD_SEED = 2026
BY = "simulated cast in an invented studio"
CAST_SD = 0.4  # of L*, a* and b*, from one cast of a recipe to the next
TILE_CEMENT_G, TILE_SCALE_STEP_G = 100.0, 0.01
_PHOTO_ROOT = np.array([[0.45, 0.0, 0.0], [0.15, 0.55, 0.0], [-0.1, 0.2, 0.75]])  # L L^T: an ordinary photograph
_LOUDER = {"dry": 1.0, "sealed": 1.15, "wet": 1.3, "demould": 1.3}  # glints on a wet skin
_DAYS_AFTER = {"demould": 1, "dry": 21, "wet": 21, "sealed": 24}
_WHITE = "titanium-white"
LOT_IN_USE = {"white-cement": "white-cement-31", "grey-cement": "grey-cement-12"}

Loads = Mapping[str, float]


@cache
def world() -> World:
    """The studio that all tiles and pieces were cast in."""
    return World(WORLD_SEED)


def cast(
    name: str, loads: Loads, base: str, states: Iterable[str], *, weighed: Loads | None = None
) -> dict[str, Shade]:
    """One piece as a maker would read it, in several states; chance follows from its name alone.

    weighed: what was really weighed; None: `loads` with the slips of the scale.
    """
    rng = np.random.default_rng([WORLD_SEED, zlib.crc32(name.encode())])
    slip = TILE_SCALE_STEP_G * rng.uniform(-0.5, 0.5, (len(loads), 2)).sum(axis=1) / TILE_CEMENT_G
    made = weighed or {each: load + off for (each, load), off in zip(loads.items(), slip, strict=True)}
    of_this_cast = CAST_SD * rng.standard_normal(3)
    return {state: _read(world().lab(made, base, state) + of_this_cast, state, rng) for state in states}


def _read(lab: Array, state: str, rng: np.random.Generator) -> Shade:
    root = _PHOTO_ROOT * _LOUDER[state] * rng.uniform(0.85, 1.2)
    return Shade(np.round(lab + root @ rng.standard_normal(3), 2), covariance=np.round(root @ root.T, 4))


def shade_records(shades: Mapping[str, Shade], cast_on: date, tile: str) -> list[Record]:
    """The measured shades of a tile."""
    return [
        ShadeRecord.of(shade, uid=f"{tile}-{state}", tile_uid=tile, state=state,
                       measured_on=cast_on + timedelta(_DAYS_AFTER[state]), provenance={"kind": "measured", "by": BY})
        for state, shade in shades.items()
    ]  # fmt: skip


def tiles() -> list[Record]:
    """The tile records and their shades."""
    records: list[Record] = []
    for number, (base, loads, states, again) in enumerate(_plan()):
        parts = [f"{name}-{100 * load:g}" for name, load in loads.items()] or ["blank"]
        uid = "-".join([base.split("-")[0], *parts, *(["again"] if again else [])])
        cast_on = date(2026, 9, 3) + timedelta(number // 8)
        tags = ("blank",) if not loads else ("tint with white",) if len(loads) > 1 else ("tint ladder",)
        records.append(
            TileRecord(uid=uid, cement_uid=base, cement_lot_uid=LOT_IN_USE[base],
                       loads=loads, water_per_cement=0.25, cast_on=cast_on, tags=tags)
        )  # fmt: skip
        records += shade_records(cast(uid, loads, base, states), cast_on, uid)
    return records


def _plan() -> list[tuple[str, Loads, tuple[str, ...], bool]]:
    """(base, loads, states seen in, a second cast of the same): what the studio cast in September."""
    wet, young, sealed = ("dry", "wet"), ("demould", "dry"), ("dry", "sealed")
    everyday = ("red-iron-oxide", "yellow-iron-oxide", "black-iron-oxide", "chromium-oxide-green", "ultramarine-blue")
    plan: list[tuple[str, Loads, tuple[str, ...], bool]] = [
        ("white-cement", {}, ("demould", "dry", "wet", "sealed"), False), ("white-cement", {}, ("dry",), True),
    ]  # fmt: skip
    for name in everyday:
        plan += [
            ("white-cement", {name: load}, wet if load == 0.02 else ("dry",), False) for load in (0.005, 0.02, 0.05)
        ]
        seen = young if name in everyday[:2] else sealed if name in everyday[3:] else ("dry",)
        plan.append(("white-cement", {name: 0.02, _WHITE: 0.02}, seen, False))
    plan += [("white-cement", {_WHITE: load}, ("dry",), False) for load in (0.02, 0.05)]
    plan += [("white-cement", {"brown-iron-oxide": load}, ("dry",), False) for load in (0.01, 0.04)]
    plan += [
        ("white-cement", {name: load}, ("dry",), False)
        for name, load in (("cobalt-blue", 0.03), ("carbon-black", 0.01))
    ]
    plan.append(("white-cement", {"red-iron-oxide": 0.02}, ("dry",), True))
    plan.append(("grey-cement", {}, wet, False))
    plan += [("grey-cement", {name: 0.03}, wet if name == "red-iron-oxide" else ("dry",), False) for name in everyday]
    plan.append(("grey-cement", {_WHITE: 0.04}, ("dry",), False))
    plan.append(("grey-cement", {"yellow-iron-oxide": 0.02, _WHITE: 0.02}, ("dry",), False))
    return plan
