"""The demo studio at its bench: batches with their sheets and weighings, pieces in every place of life, work in hand.

All dates lead up to one day, TODAY: a tray to be demoulded, one to be weighed, planters to be measured and sealed, a
bowl left half weighed, a batch planned. The demo moves them so that TODAY is the day it is first opened.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from demo_shelf import BULK_STEP_G, CAP, SCALE_STEP_G, WATER_PER_CEMENT, lot_in_use, lot_words
from demo_tiles import LOT_IN_USE, WORLD_SEED, Loads

from colormatch import starter_palette
from colormatch.bench.batch import Batch, Tone, WeighedBowl, bowls_for, plan_batch
from colormatch.bench.bowl import WATER, weighing_order
from colormatch.bench.sheet import batch_code
from colormatch.library import BatchRecord, Draft, DryingWeight, Piece, Record, Weighing
from colormatch.library.demo import TODAY as LAST_DAY
from colormatch.library.drafts import draft_uid
from colormatch.loads import Mix
from colormatch.workshop.curing import KINDS
from colormatch.workshop.plans import Casting, Plan, written
from colormatch.workshop.weighing import BOWL

TODAY = datetime.combine(LAST_DAY, datetime.min.time(), UTC)
WASTE = 0.1
CURING = KINDS["portland"]  # both cements of the demo
WEATHER = "dry, stove on"


@dataclass(frozen=True)
class Cast:
    """A batch of the demo: what, in which mould, when; and how far each of its pieces is."""

    uid: str
    name: str
    bowls: Sequence[tuple[str, str, Loads, float]]  # recipe, cement, loads, share
    mould_uid: str
    fill_g: float
    pieces: int
    days_ago: float
    recipe_uid: str | None = None
    design_uid: str | None = None
    swatch_uid: str | None = None
    weights: int = 0  # drying weights, a day apart,
    dried: int = 1  # of so many of its pieces
    measured: tuple[float, ...] = ()  # days from casting to the measured dry shade, piece by piece
    sealed: tuple[float, ...] = ()  # and to the sealer
    sold: tuple[float, ...] = ()  # and to the buyer
    notes: str = ""

    @property
    def at(self) -> datetime:
        """When it was cast."""
        return TODAY + timedelta(hours=9.1) - timedelta(days=self.days_ago)

    @property
    def demoulded(self) -> datetime:
        """Half an hour after it was due."""
        return CURING.demould_due(self.at) + timedelta(minutes=27)

    def batch(self) -> Batch:
        """Its bowls, rounded to the studio's scales."""
        starter = starter_palette()
        tones = [Tone(recipe, Mix.of(cement, loads), share) for recipe, cement, loads, share in self.bowls]
        densities = {name: each.density_g_cm3 for name, each in starter.pigments.items()}
        amount = {"fill_g": self.fill_g, "pieces": self.pieces, "waste": WASTE}
        bowls = bowls_for(tones, **amount, water_per_cement=WATER_PER_CEMENT, densities=densities)
        return plan_batch(
            bowls, **amount, cap=CAP, maxima={name: each.maximum_load for name, each in starter.pigments.items()},
            water_per_cement=WATER_PER_CEMENT, scale_step_g=SCALE_STEP_G, bulk_step_g=BULK_STEP_G,
        )  # fmt: skip


def cast_records(cast: Cast) -> list[Record]:
    """A batch that was cast, with its weighings, its pieces, and weights as they dried."""
    sheet = cast.batch()
    weighings = [row for number, bowl in enumerate(sheet.bowls, start=1) for row in _weighed(cast, number, bowl)]
    cement = sum(each.weighed_g or 0.0 for each in weighings if each.cement_lot_uid)
    water = sum(each.weighed_g or 0.0 for each in weighings if each.material == WATER)
    stage = "done" if len(cast.sold) == cast.pieces else "cast"
    batch = _batch(cast, sheet, stage, cement)
    lots = sorted({each.material for each in weighings} - {WATER})
    jars = ", ".join(lot_words(name) for name in lots if name not in LOT_IN_USE)
    conditions = {"bag": ", ".join(lot_words(name) for name in lots if name in LOT_IN_USE), "jars": jars,
                  "weather": WEATHER}  # fmt: skip
    pieces = [_piece(cast, number, round(water / cement, 6), conditions) for number in range(cast.pieces)]
    return [batch, *weighings, *pieces, *(row for piece in pieces[: cast.dried] for row in _drying(cast, piece))]


def planned_records(cast: Cast) -> list[Record]:
    """A batch with its sheet, not begun."""
    sheet = cast.batch()
    return [_batch(cast, sheet, "planned", sheet.cement_g)]


def half_weighed_records(cast: Cast) -> list[Record]:
    """A batch whose bowl holds the cement and the first pigment: the scale was left there."""
    sheet = cast.batch()
    bowl = sheet.bowls[0]
    cement, pigment, *_ = weighing_order(bowl)
    readings = [(cement.material, cement.grams + BULK_STEP_G), (pigment.material, pigment.grams)]
    entries = [{"done": "zero", "material": "", "grams": 0.0, "typed": "", "at": _iso(cast.at), "add": {}}]
    for minutes, (material, grams) in enumerate(readings, start=1):
        at = _iso(cast.at + timedelta(minutes=2 * minutes))
        entries.append(
            {"done": "weighed", "material": material, "grams": grams, "typed": f"{grams:g}", "at": at, "add": {}}
        )
    key = f"{cast.uid}/1"
    draft = Draft(
        uid=draft_uid(BOWL, key), what=BOWL, key=key, title=cast.name, device="the bench",
        content={"entries": entries, "additive": "", "lots": {}}, changed_at=cast.at + timedelta(minutes=4),
    )  # fmt: skip
    return [_batch(cast, sheet, "weighing", sheet.cement_g), draft]


def _batch(cast: Cast, sheet: Batch, stage: str, cement_g: float) -> BatchRecord:
    shares = [share for *_, share in cast.bowls]
    tones = tuple(Tone(bowl.name, bowl.wanted.mix, share) for bowl, share in zip(sheet.bowls, shares, strict=True))
    plan = Plan(
        Casting(cast.name, tones, recipe_uid=cast.recipe_uid, design_uid=cast.design_uid), sheet, cast.mould_uid
    )
    return BatchRecord(
        uid=cast.uid, name=cast.name, recipe_uid=cast.recipe_uid, design_uid=cast.design_uid, mould_uid=cast.mould_uid,
        made_on=cast.at.date(), pieces=cast.pieces, cement_g=round(cement_g, 6), stage=stage,
        code=batch_code(sheet, title=cast.name, made_on=cast.at.date()), planned=written(plan),
        drawn_down=stage in ("cast", "done"), content={} if stage == "planned" else {"weather": WEATHER},
        notes=cast.notes,
    )  # fmt: skip


def _weighed(cast: Cast, number: int, bowl: WeighedBowl) -> list[Weighing]:
    """What went into one bowl, in the order of its sheet, with the slips of the scale."""
    rng = _chance(cast.uid, str(number))
    rows = []
    for place, step in enumerate(weighing_order(bowl), start=1):
        bulk = step.material in (bowl.base, WATER)
        planned = step.up_to or step.grams
        read = planned + (BULK_STEP_G if bulk else SCALE_STEP_G) * int(rng.integers(-1, 2)) * (step.material != WATER)
        rows.append(
            Weighing(
                uid=f"{cast.uid}-{number}-{place}", batch_uid=cast.uid, material=step.material, bowl=str(number),
                step=place, planned_g=planned, weighed_g=round(read, 1),
                weighed_at=cast.at - timedelta(minutes=15 * number - 2 * place),
                cement_lot_uid=LOT_IN_USE.get(step.material),
                pigment_lot_uid=None if bulk else lot_in_use(step.material),
            )
        )  # fmt: skip
    return rows


def loads_of(cast: Cast, number: int = 1) -> dict[str, float]:
    """What was really weighed into a bowl, as loads."""
    bowl = cast.batch().bowls[number - 1]
    grams = {each.material: each.weighed_g or 0.0 for each in _weighed(cast, number, bowl)}
    return {name: grams[name] / grams[bowl.base] for name in bowl.pigments_g}


def _piece(cast: Cast, number: int, water: float, conditions: Mapping[str, object]) -> Piece:
    def after(days: tuple[float, ...]) -> datetime | None:
        return cast.at + timedelta(days=days[number]) if number < len(days) else None

    out = cast.demoulded if cast.demoulded <= TODAY else None
    sealed, sold = after(cast.sealed), after(cast.sold)
    return Piece(
        uid=f"{cast.uid}-{number + 1}",
        name=cast.name if cast.pieces == 1 else f"{cast.name}, {number + 1} of {cast.pieces}",
        batch_uid=cast.uid, swatch_uid=cast.swatch_uid, recipe_uid=cast.recipe_uid,
        bowl="1" if len(cast.bowls) == 1 else "", cast_at=cast.at, demould_due_at=CURING.demould_due(cast.at),
        demoulded_at=out, moist_until=out and CURING.moist_until(out), sealed_at=sealed,
        sealer="acrylic, water-based" if sealed else "", sold_on=sold and sold.date(), mould_finish="matte silicone",
        water_per_cement=water, temperature_c=18.5, humidity_percent=55.0,
        conditions={**conditions, **({"locked": True} if number < len(cast.measured) else {})},
    )  # fmt: skip


def _drying(cast: Cast, piece: Piece) -> list[Record]:
    """Weights once a day from the end of the moist days: exponential, at hours that are never quite the same."""
    if piece.moist_until is None or not cast.weights:
        return []
    rng = _chance(piece.uid, "drying")
    dry_g, water_g, days = 0.902 * cast.fill_g, 0.035 * cast.fill_g, 2.4
    records: list[Record] = []
    for number in range(cast.weights):
        hours = 24.0 * number + float(rng.uniform(-2, 2)) * (number > 0)
        mass = dry_g + water_g * np.exp(-hours / 24 / days) + float(rng.normal(0, 0.04))
        records.append(
            DryingWeight(
                uid=f"{piece.uid}-day-{number + 1:02d}", batch_uid=cast.uid, piece_uid=piece.uid, piece=piece.name,
                weighed_at=(piece.moist_until + timedelta(hours=hours)).replace(second=0, microsecond=0),
                mass_g=round(float(mass), 1),
            )
        )  # fmt: skip
    return records


def _chance(*names: str) -> np.random.Generator:
    return np.random.default_rng([WORLD_SEED, zlib.crc32("/".join(names).encode())])


def _iso(moment: datetime) -> str:
    return moment.isoformat(timespec="seconds")
