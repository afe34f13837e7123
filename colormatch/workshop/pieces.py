"""Pieces and their lives: cast, in the mould, moist, drying, ready to seal, sealed; what each was cast from, and how.

Conditions (bag, jars, water, weather ...) are written into a piece when it is cast and locked when it is measured.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from math import ceil
from typing import Any, Literal

from ..bench.demould import DemouldCheck, check_demould
from ..bench.drying import Drying, follow_drying
from ..errors import InputError
from ..library import (
    BatchRecord,
    DryingWeight,
    Library,
    Piece,
    ShadeRecord,
    Weighing,
)
from ..naming import new_name
from ..palette import Palette
from ..shade import Shade
from ..studio import MEASURED, now_kept, when_measured
from ..weighed import BowlMix, mix_of
from .curing import Curing, curing
from .numbers import Question, read_number
from .shelf import defaults

Stage = Literal[
    "in the mould", "demould due", "kept moist", "drying", "ready to seal", "to be measured", "sealed", "sold"
]
SEALER = "sealer"  # in the provenance of a sealed shade: its name, in small letters
_PART_OF_MIX = (0.5, 1.1)  # what a fresh piece weighs of what was mixed for it, waste and water lost: a judgement
_TOO_VAGUE_DAYS = 60  # to the end of the likely range; a judgement
_LATEST_WEIGHT = timedelta(minutes=5)  # a clock that is a little ahead


def pieces_of(library: Library, batch: BatchRecord) -> list[Piece]:
    """The pieces of a batch, in the order of their names."""
    return sorted(library.list(Piece, batch_uid=batch.uid), key=lambda each: (len(each.name), each.name))


def stage(library: Library, piece: Piece, now: datetime | None = None) -> Stage:
    """Where a piece is in its life."""
    now = now or datetime.now(UTC)
    if piece.sold_on is not None:
        return "sold"
    if piece.sealed_at is not None:
        return "sealed"
    if piece.demoulded_at is None:
        return "demould due" if piece.demould_due_at is None or now >= piece.demould_due_at else "in the mould"
    if piece.moist_until is not None and now < piece.moist_until:
        return "kept moist"
    if dry_from(library, piece) is not None:
        dry = [each for each in shades_of(library, piece) if each.state == "dry" and is_final(each)]
        return "ready to seal" if dry else "to be measured"
    return "drying"


def demould(library: Library, piece: Piece, *, at: datetime | None = None) -> Piece:
    """The piece has left its mould; from now it is kept moist or dries, by its cement's kind."""
    moment = past(at)
    if piece.cast_at is not None and moment < piece.cast_at:
        raise InputError(f"{piece.name} was cast later than that ({piece.cast_at.astimezone():%d.%m. %H:%M}).")
    moist = curing(library, _cement_of(library, piece)).moist_until(moment)
    return library.update(Piece, piece.uid, lambda each: replace(each, demoulded_at=moment, moist_until=moist))


def mix_in(library: Library, piece: Piece, bowl: str = "") -> BowlMix:
    """What one bowl of a piece really was; of its own where none is named."""
    return mix_of(library, replace(piece, bowl=bowl or piece.bowl))


def check_fresh(library: Library, knowledge: Palette, piece: Piece, measured: Shade, *, bowl: str = "") -> DemouldCheck:
    """The fresh piece against what its own weighings let expect, and the dry shade it is heading for."""
    of = mix_in(library, piece, bowl)
    if of.mix is None:
        raise InputError(f"Nothing can be predicted for {piece.name}: {of.why}.")
    return check_demould(knowledge, of.mix.loads, of.mix.base, measured)


def weigh(library: Library, piece: Piece, text: str, *, at: datetime | None = None) -> DryingWeight | Question:
    """Note a drying weight as typed; InputError for one in the future or at a minute that has one."""
    read = read_number(text, name="The weight", step=defaults(library).scale_step_g)
    return read if isinstance(read, Question) else weigh_sure(library, piece, read, at=at)


def weigh_sure(library: Library, piece: Piece, grams: float, *, at: datetime | None = None) -> DryingWeight:
    """The same with grams that need no question."""
    if grams <= 0:
        raise InputError("Type the weight the scale shows, in grams.")
    moment = past(at).replace(second=0, microsecond=0)
    same = next((each for each in weights_of(library, piece) if each.weighed_at == moment), None)
    if same is not None:
        raise InputError(f"{same.mass_g:g} g is noted at that minute already; take that one out first.")
    if piece.batch_uid is None:
        raise InputError(f"{piece.name} belongs to no batch; its weights cannot be kept.")
    return library.save(
        DryingWeight(batch_uid=piece.batch_uid, piece_uid=piece.uid, piece=piece.name, weighed_at=moment, mass_g=grams)
    )


def beside_what_was_mixed(library: Library, piece: Piece, grams: float) -> str:
    """What to say of a first weight that is far from what was mixed for one piece; empty where it is near."""
    batch = library.find_one(BatchRecord, piece.batch_uid) if piece.batch_uid else None
    weighed = library.list(Weighing, batch_uid=piece.batch_uid) if batch else []
    mixed = sum(each.weighed_g or 0.0 for each in weighed) / ((batch and batch.pieces) or 1)
    if not mixed or _PART_OF_MIX[0] * mixed <= grams <= _PART_OF_MIX[1] * mixed:
        return ""
    return f"For one piece {mixed:.0f} g was mixed: if {grams:g} g is a slip, undo it."


def weights_of(library: Library, piece: Piece) -> list[DryingWeight]:
    """The drying weights of a piece in the order of time."""
    return sorted(library.list(DryingWeight, piece_uid=piece.uid), key=_moment)


def noted_last(library: Library, weights: Sequence[DryingWeight]) -> DryingWeight:
    """Of some weights in the order of time the one noted last, of whatever day; of those noted together the latest."""
    return max(reversed(weights), key=lambda each: library.history(each)[-1].saved_at)


def last_weighed(library: Library, piece: Piece) -> datetime | None:
    """When it was weighed last to see it dry."""
    return max((each.weighed_at for each in weights_of(library, piece) if each.weighed_at), default=None)


def drying(library: Library, piece: Piece) -> Drying | None:
    """Where its weights say a piece stands; None without a weight."""
    return drying_of(weights_of(library, piece), defaults(library).scale_step_g)


def drying_of(weights: Sequence[DryingWeight], scale_step_g: float) -> Drying | None:
    """The same of weights in the order of time, days counted from the first."""
    if not weights:
        return None
    days, grams = in_days(weights)
    return _followed(tuple(days), tuple(grams), scale_step_g)


@lru_cache(maxsize=256)  # every screen asks about every piece that dries: 30 ms each
def _followed(days: tuple[float, ...], grams: tuple[float, ...], scale_step_g: float) -> Drying:
    return follow_drying(days, grams, scale_step_g=scale_step_g)


def ready_words(drying: Drying) -> str:
    """`Likely ready to seal in 3 to 5 days.`"""
    if drying.verdict == "seal":
        return "Dry enough."
    early, _, late = (day - drying.today for day in drying.seal_day)
    if late > _TOO_VAGUE_DAYS or drying.verdict == "cannot tell":
        return "Too early to tell when it may be sealed."
    first, last = max(ceil(early), 0), max(ceil(late), 0)
    if last <= 1:
        return "Likely ready to seal by tomorrow."
    return f"Likely ready to seal in {f'{first} to {last}' if first < last else last} days."


def in_days(weights: Sequence[DryingWeight]) -> tuple[list[float], list[float]]:
    """Days since the first weight, and grams."""
    hours = [_moment(each) for each in weights]
    return [(hour - hours[0]) / 24 for hour in hours], [each.mass_g for each in weights]


def dry_from(library: Library, piece: Piece) -> date | None:
    """The day from which a piece may be judged dry and sealed; None while its weights or its age do not say so."""
    at = defaults(library).scale_step_g
    found = drying_of(weights_of(library, piece), at)
    last = last_weighed(library, piece)
    if found is None or found.verdict != "seal" or last is None:
        return None
    young = curing(library, _cement_of(library, piece)).seal_from(piece.cast_at) if piece.cast_at else last
    return None if datetime.now(UTC) < young else max(last, young).astimezone().date()


def may_be_judged(library: Library, piece: Piece, on: date | None = None) -> tuple[date | None, str]:
    """(day from which its dry shade is final, None: it is now; a sentence that says why)."""
    on = on or date.today()
    ready = dry_from(library, piece)
    if ready is not None and ready <= on:
        return None, f"{piece.name} is dry: its shade is final."
    times = curing(library, _cement_of(library, piece))
    found = drying(library, piece)
    first = next((each.weighed_at for each in weights_of(library, piece) if each.weighed_at), None)
    a_week_on = on + timedelta(days=7)  # usual before sealing; common practice
    due = times.seal_from(piece.cast_at).astimezone().date() if piece.cast_at else a_week_on
    if found is not None and first is not None and found.seal_day[1] < 365:  # later than that is no day
        due = max(due, found.seal_dates(first.astimezone().date())[1])
    if due <= on and found is None:
        return None, f"{piece.name} was not weighed as it dried; its age says that it is dry."
    due = max(due, on + timedelta(days=1))
    return due, f"{piece.name} has not dried yet: its shade may be judged from {due:%d.%m.} on."


def keep_shade(
    library: Library,
    piece: Piece,
    shade: Shade,
    *,
    state: str,
    on: date | None = None,
    bowl: str = "",
    photograph_uid: str | None = None,
    provenance: Mapping[str, Any] | None = None,
) -> ShadeRecord:
    """Keep a measured shade of a piece, and lock its conditions.

    A dry shade measured too early is kept as that, with the day from which it may be judged; a sealed one as its
    sealer's (see sealed_state). bowl: which tone, of a piece of two. provenance: region, reference and the like.
    """
    on = on or date.today()
    sealer = {SEALER: piece.sealer.casefold()} if state == "sealed" and piece.sealer else {}
    state = sealed_state(library, piece) if state == "sealed" else state
    final = may_be_judged(library, piece, on)[0] if state == "dry" else None
    origin = {"kind": MEASURED, **now_kept(), **sealer, **({"bowl": bowl} if bowl else {}), **(provenance or {})}
    record = ShadeRecord.of(
        shade, piece_uid=piece.uid, swatch_uid=piece.swatch_uid, state=state, measured_on=on, final_from=final,
        photograph_uid=photograph_uid, provenance=origin,
    )  # fmt: skip
    locked = replace(library.get(Piece, piece.uid), conditions={**piece.conditions, "locked": True})
    kept = library.save_all([locked, record])
    return next(each for each in kept if isinstance(each, ShadeRecord))


def sealed_state(library: Library, piece: Piece) -> str:
    """`sealed` with the sealer that was measured first, `sealed:<name>` with any other: each darkens its own way."""
    own = piece.sealer.casefold()
    kept = sorted(library.list(ShadeRecord, state="sealed"), key=when_measured)
    first = next((each.provenance[SEALER] for each in kept if SEALER in each.provenance), own)
    return f"sealed:{own}" if own and own != first else "sealed"


def shades_of(library: Library, piece: Piece) -> list[ShadeRecord]:
    """The measured shades of a piece, oldest first."""
    return sorted(library.list(ShadeRecord, piece_uid=piece.uid), key=when_measured)


def dry_shade(library: Library, piece: Piece, bowl: str = "") -> ShadeRecord | None:
    """The dry shade a piece is judged by: the newest final one, else the newest."""
    own = [
        each
        for each in shades_of(library, piece)
        if each.state == "dry" and (not bowl or each.provenance.get("bowl", bowl) == bowl)
    ]
    final = [each for each in own if is_final(each)]
    return (final or own or [None])[-1]  # type: ignore[list-item]


def is_final(shade: ShadeRecord) -> bool:
    """Whether a shade was measured no earlier than it could be judged."""
    return shade.final_from is None or (shade.measured_on is not None and shade.measured_on >= shade.final_from)


def as_standard(shade: ShadeRecord) -> str:
    """A warning for a shade taken as the standard before it was final; empty when all is well."""
    if is_final(shade):
        return ""
    return (
        f"This shade was measured on {shade.measured_on:%d.%m.%Y}, before the piece had dried; it may be judged from "
        f"{shade.final_from:%d.%m.%Y} on. Measure it again before other casts are held against it."
    )


def seal(library: Library, piece: Piece, sealer: str, *, at: datetime | None = None) -> Piece:
    """The piece is sealed, with this; its name may be left empty."""
    moment, name = past(at), new_name(sealer.strip(), (), "sealer") if sealer.strip() else ""
    return library.update(Piece, piece.uid, lambda each: replace(each, sealed_at=moment, sealer=name))


def sell(library: Library, piece: Piece, on: date | None = None) -> Piece:
    """The piece is sold; when all of a batch are, the batch is done."""
    return _with_its_batch(library, replace(library.get(Piece, piece.uid), sold_on=on or date.today()))


def _with_its_batch(library: Library, piece: Piece) -> Piece:
    """Keep a piece that was sold, or is not any more; its batch is done while all its pieces are."""
    batch = library.find_one(BatchRecord, piece.batch_uid) if piece.batch_uid else None
    records: list[Piece | BatchRecord] = [piece]
    if batch is not None and batch.stage in ("cast", "done"):
        others = (each.sold_on for each in pieces_of(library, batch) if each.uid != piece.uid)
        records.append(replace(batch, stage="done" if piece.sold_on and all(others) else "cast"))
    library.save_all(records)
    return library.get(Piece, piece.uid)


def change_conditions(library: Library, *pieces: Piece, **said: Any) -> None:
    """Correct what was noted of a casting (weather, temperature_c, humidity_percent, mould_finish, notes).

    Refused once a piece was measured: its shade belongs to these conditions.
    """
    weather = said.pop("weather", None)
    changed = []
    for piece in pieces:
        if piece.conditions.get("locked"):
            raise InputError(f"{piece.name} was measured under these conditions; they cannot be changed any more.")
        noted = {**piece.conditions, **({} if weather is None else {"weather": weather})}
        changed.append(replace(piece, conditions=noted, **said))
    library.save_all(changed)


_STEPS: dict[str, tuple[str, dict[str, Any]]] = {  # of a life, the latest first: the field, and what undoing it empties
    "sold_on": ("sold", {"sold_on": None}),
    "sealed_at": ("sealed", {"sealed_at": None, "sealer": ""}),
    "demoulded_at": ("out of the mould", {"demoulded_at": None, "moist_until": None}),
}


def undo_piece(library: Library, piece: Piece) -> tuple[Piece, str]:
    """Take the last step of a piece's life back (out of the mould, sealed, sold); what was taken back, in words."""
    now = library.get(Piece, piece.uid)
    said = last_step(now)
    if not said:
        raise InputError(f"Nothing has happened to {piece.name} yet that could be taken back.")
    empty = next(empty for words, empty in _STEPS.values() if words == said)
    return _with_its_batch(library, replace(now, **empty)), f"Taken back: {piece.name} {said}."


def last_step(piece: Piece) -> str:
    """The last step of its life: `out of the mould`, `sealed`, `sold`; empty while a piece is in the mould."""
    return next((words for field, (words, _) in _STEPS.items() if getattr(piece, field) is not None), "")


def conditions(piece: Piece) -> dict[str, str]:
    """What may have changed the shade of a piece, in words: `bag`, `water`, `days in the mould` ..."""
    found = {str(key): str(value) for key, value in piece.conditions.items() if key != "locked" and value}
    if piece.water_per_cement is not None:
        found["water"] = f"{100 * piece.water_per_cement:.1f} % of the cement"
    if piece.cast_at is not None and piece.demoulded_at is not None:
        found["in the mould"] = _span(piece.demoulded_at - piece.cast_at)
    if piece.demoulded_at is not None and piece.moist_until is not None:
        found["kept moist"] = _span(piece.moist_until - piece.demoulded_at)
    if piece.cast_at is not None and piece.sealed_at is not None:
        found["sealed after"] = _span(piece.sealed_at - piece.cast_at)
    given = (("temperature", piece.temperature_c, "°C"), ("humidity", piece.humidity_percent, "%"))
    found |= {name: f"{value:g} {unit}" for name, value, unit in given if value is not None}
    found |= {name: value for name, value in (("mould finish", piece.mould_finish), ("sealer", piece.sealer)) if value}
    return found


def _cement_of(library: Library, piece: Piece) -> str | None:
    of = mix_in(library, piece, piece.bowl or "1")
    return of.mix.base if of.mix else of.recipe.cement_uid if of.recipe else None


def times_of(library: Library, piece: Piece) -> Curing:
    """Times of the cement a piece was cast in."""
    return curing(library, _cement_of(library, piece))


def past(at: datetime | None) -> datetime:
    """That moment, or now; InputError for one still to come."""
    now = datetime.now(UTC)
    if at is None:
        return now
    moment = at.astimezone(UTC)
    if moment > now + _LATEST_WEIGHT:
        raise InputError("That day and hour is still to come.")
    return moment


def _moment(weight: DryingWeight) -> float:
    """Hours, of which only differences count."""
    return weight.weighed_at.timestamp() / 3600 if weight.weighed_at is not None else weight.hours or 0.0


def _span(time: timedelta) -> str:
    hours = time.total_seconds() / 3600
    return f"{hours:.0f} h" if hours < 48 else f"{hours / 24:.0f} days"
