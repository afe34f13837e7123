"""Weighing one bowl step by step: what is next, what is in, and what a slip changes. No drawing here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from colormatch.bench.batch import FIRST_WATER, WATER_PER_CEMENT, Batch, WeighedBowl, round_to
from colormatch.bench.weighing_mistake import Correction, correct_weighing
from colormatch.loads import Mix
from colormatch.palette import Palette

FIRST, REST = "water to start with", "rest of the water"
WATERS = (FIRST, REST)


@dataclass(frozen=True, slots=True)
class Amount:
    """How much to cast: by the wet mix in one mould (fill_g), or by the dry cement of all bowls."""

    fill_g: float | None = None
    cement_g: float = 0.0
    pieces: int = 1
    waste: float = 0.0
    mould_uid: str | None = None


@dataclass(frozen=True, slots=True)
class Scales:
    """The water, and what the scales can show."""

    water_per_cement: float
    step_g: float
    bulk_step_g: float


@dataclass(frozen=True, slots=True)
class Step:
    """Put this much of this into the bowl."""

    material: str
    grams: float


@dataclass(frozen=True, slots=True, eq=False)
class Work:
    """A bowl on the scale. weighed: grams in it so far; ahead: what still goes in; slip: the open question.

    back: the work before the last weight was typed, for one that was mistyped.
    """

    bowl: WeighedBowl
    step_g: float
    bulk_step_g: float
    cap: float
    ahead: tuple[Step, ...]
    weighed: Mapping[str, float]
    slip: Correction | None = None
    note: str = ""
    back: Work | None = None

    @property
    def done(self) -> bool:
        """Whether everything is in."""
        return not self.ahead and self.slip is None

    @property
    def water_in(self) -> bool:
        """Whether any water is in."""
        return any(name in self.weighed for name in WATERS)


def begin(batch: Batch, place: int) -> Work:
    """The work on one bowl of a batch: cement, pigments from the largest dose to the smallest, water in two parts."""
    bowl = batch.bowls[place]
    doses = sorted(bowl.pigments_g.items(), key=lambda item: -item[1])
    steps = [Step(bowl.base, bowl.cement_g), *(Step(name, grams) for name, grams in doses if grams > 0)]
    steps += [Step(FIRST, bowl.water_start_g), Step(REST, round(bowl.water_most_g - bowl.water_start_g, 6))]
    return Work(bowl, batch.scale_step_g, batch.bulk_step_g, batch.cap, tuple(steps), {})


def put_in(work: Work, grams: float, palette: Palette) -> Work:
    """What the scale showed for the step at hand: on to the next, a little more of it, or a slip to answer."""
    step, rest = work.ahead[0], work.ahead[1:]
    weighed = {**work.weighed, step.material: round(work.weighed.get(step.material, 0.0) + grams, 6)}
    pigment = step.material in work.bowl.pigments_g
    least = work.step_g if pigment else work.bulk_step_g
    missing = step.grams - grams
    after = replace(work, weighed=weighed, ahead=rest, note="", back=work)
    if abs(missing) < 0.75 * least:
        return after
    if missing > 0:
        more = Step(step.material, round_to(missing, least))
        return replace(after, ahead=(more, *rest), note=f"{grams:g} g is in; {more.grams:g} g is still missing.")
    if step.material in WATERS:
        return replace(after, note=f"{-missing:g} g more water than planned: weaker and paler. Hold back the rest.")
    if not work.bowl.pigments_g:
        return replace(after, note=f"{-missing:g} g more cement than planned; there is no pigment to match to it.")
    return replace(after, slip=_answer(after, palette))


def _answer(work: Work, palette: Palette) -> Correction:
    inside = {name: grams for name, grams in work.weighed.items() if name not in WATERS}
    return correct_weighing(
        palette,
        Mix.of(work.bowl.base, work.bowl.loads),
        cement_g=work.bowl.cement_g,
        weighed=inside,
        cap=work.cap,
        scale_step_g=work.step_g,
        bulk_step_g=work.bulk_step_g,
        water_in=work.water_in,
        water_per_cement=work.bowl.water_most_g / work.bowl.cement_g or WATER_PER_CEMENT,
    )


def settle(work: Work, *, mend: bool) -> Work:
    """Go on after a slip: with the additions that mend it, or with the sheet as it stands."""
    if work.slip is None:
        return work
    grams = dict(work.slip.to_correct if mend else work.slip.to_leave)
    water = grams.pop("water", 0.0)
    solids = sorted(grams.items(), key=lambda item: (item[0] != work.bowl.base, -item[1]))
    steps = [Step(name, round(mass, 6)) for name, mass in solids]
    if water > 0:
        parts = (0.0, water) if work.water_in else (FIRST_WATER * water, (1 - FIRST_WATER) * water)
        steps += [
            Step(name, round_to(mass, work.bulk_step_g)) for name, mass in zip(WATERS, parts, strict=True) if mass > 0
        ]
    return replace(work, slip=None, ahead=tuple(steps), note="")
