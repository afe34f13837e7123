"""Weighing one bowl step by step: what is in, what is next, and what a mistake asks for.

A bowl is its sheet and the list of what was entered, in order; everything else follows from these two. So a weight
can be corrected later, a step taken back, and a bowl left half-done goes on where it was.

One order holds on sheet, card and bowl: zero the scale, cement, pigments from the largest dose down, water. A dose
too small for the scale is weighed as a pre-blend in dry cement of the same bag, which counts as both.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

from ..frozen import FrozenMapping
from ..loads import Mix
from ..recipes import PreBlend
from ..recipes.limits import PREBLEND_SHARE, SMALL_DOSE_STEPS
from .batch import FIRST_WATER, WeighedBowl, round_to

Kind = Literal["zero", "cement", "pigment", "preblend", "water"]
Done = Literal["zero", "weighed", "enough", "correct", "leave"]
WATER = "water"
_NEAR = 0.75  # of a step of the scale: a reading this near to the mark is on it
_CEMENT_NEAR = 0.005  # of the cement: so little more or less moves no shade by 0.1 dE00 (tests/bench/test_bowl.py)


@dataclass(frozen=True, slots=True)
class Step:
    """Put `grams` of a material into the bowl, or zero the scale. up_to: of the water, the most that may go in now."""

    kind: Kind
    material: str = ""
    grams: float = 0.0
    up_to: float | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing done at the bowl, as it was entered.

    "weighed": `grams` of a material went in (of a pre-blend: of the blend). "enough": what is short stays so.
    "correct", "leave": the answer to a mistake, `add` is what still goes in. typed, at: as it was typed, and when.
    """

    done: Done
    material: str = ""
    grams: float = 0.0
    typed: str = ""
    at: str = ""
    add: Mapping[str, float] = field(default_factory=FrozenMapping)


def weighing_order(bowl: WeighedBowl, preblend: Collection[str] = ()) -> tuple[Step, ...]:
    """What goes into a bowl in the one order of sheet, card and bowl, without zeroing the scale."""
    blends = {name: PreBlend.of(name, grams) for name, grams in bowl.pigments_g.items() if name in preblend}
    steps = [
        Step("preblend", name, blends[name].blend_g) if name in blends else Step("pigment", name, grams)
        for name, grams in sorted(bowl.pigments_g.items(), key=lambda item: -item[1])
    ]
    brought = sum(blend.cement_g for blend in blends.values())
    cement = Step("cement", bowl.base, round(bowl.cement_g - brought, 6))
    return (cement, *steps, Step("water", WATER, bowl.water_start_g, bowl.water_most_g))


def small_doses(bowl: WeighedBowl, scale_step_g: float) -> tuple[str, ...]:
    """Pigments of fewer than 20 steps of the scale: better weighed as a pre-blend, or in a larger batch."""
    return tuple(name for name, grams in bowl.pigments_g.items() if 0 < grams < SMALL_DOSE_STEPS * scale_step_g)


@dataclass(frozen=True)
class Bowl:
    """A bowl on the scale: its sheet, and what was entered so far. Grams throughout; steps are those of the scales."""

    sheet: WeighedBowl
    scale_step_g: float
    bulk_step_g: float
    cap: float
    preblend: frozenset[str] = frozenset()
    entries: tuple[Entry, ...] = ()

    # --- what is in ---------------------------------------------------------------------------------

    @cached_property
    def inside(self) -> FrozenMapping[str, float]:
        """Grams of cement, each pigment and water in the bowl, a pre-blend counted as both its parts."""
        return _inside(self, self.entries)

    @cached_property
    def targets(self) -> FrozenMapping[str, float]:
        """Grams of each the bowl shall end with; "water" is the least, `water_most_g` the most."""
        place = max((i for i, each in enumerate(self.entries) if each.done in ("correct", "leave")), default=None)
        sheet = self.sheet
        if place is None:
            return FrozenMapping({sheet.base: sheet.cement_g, **sheet.pigments_g, WATER: sheet.water_start_g})
        there, answer = _inside(self, self.entries[:place]), self.entries[place].add
        wet = there.get(WATER, 0.0)
        solid = {name: there.get(name, 0.0) + answer.get(name, 0.0) for name in (sheet.base, *sheet.pigments_g)}
        solid |= {name: grams for name, grams in there.items() if name not in (*solid, WATER)}
        first = 1.0 if wet else FIRST_WATER
        return FrozenMapping({**solid, WATER: wet + round_to(first * answer.get(WATER, 0.0), self.bulk_step_g)})

    @property
    def water_most_g(self) -> float:
        """The most water the bowl may end with."""
        if self.targets[WATER] == self.sheet.water_start_g:
            return self.sheet.water_most_g
        return max(self.targets[WATER], self.sheet.water_most_g * self.targets[self.sheet.base] / self.sheet.cement_g)

    @property
    def mix(self) -> Mix:
        """What the bowl will be when it is finished as it stands; what was left short stays short."""
        grams = {name: self._final(name) for name in self.targets if name != WATER}
        cement = grams.pop(self.sheet.base)
        return Mix(self.sheet.base, FrozenMapping({name: mass / cement for name, mass in grams.items()}))

    # --- what is next -------------------------------------------------------------------------------

    @cached_property
    def ahead(self) -> tuple[Step, ...]:
        """What still goes in, in order; empty when all is in, or while a mistake waits for its answer."""
        if self.over:
            return ()
        zero = () if any(each.done == "zero" for each in self.entries) else (Step("zero"),)
        return (*zero, *(each for each in self._missing() if each.kind == "water" or self._counts(each)))

    @cached_property
    def order(self) -> tuple[Step, ...]:
        """All steps as on the sheet, zeroing first; "step 2 of 6" counts in it."""
        return (Step("zero"), *weighing_order(self.sheet, self.preblend))

    @property
    def number(self) -> int:
        """The place of the step at hand in the order, from 1; after the last: how many there are."""
        names = [each.material for each in self.order]
        at_hand = next((name for name in self.over if name in names), self.ahead[0].material if self.ahead else WATER)
        return names.index(at_hand) + 1

    @cached_property
    def over(self) -> tuple[str, ...]:
        """What more went in of than the bowl shall end with; empty for a bowl without pigment, which has no shade."""
        if not self.sheet.pigments_g:
            return ()
        return tuple(
            name
            for name, grams in self.inside.items()
            if name != WATER and grams - self.targets.get(name, 0.0) >= self._near(name)
        )

    @property
    def done(self) -> bool:
        """Whether everything is in."""
        return not self.ahead and not self.over

    def least(self, material: str) -> float:
        """The step of the scale a material is weighed on; a pre-blended pigment is ten times finer."""
        if material in (self.sheet.base, WATER):
            return self.bulk_step_g
        return self.scale_step_g * (PREBLEND_SHARE if material in self.preblend else 1.0)

    # --- entries ------------------------------------------------------------------------------------

    def plus(self, entry: Entry) -> Bowl:
        """The bowl after one more entry."""
        return replace(self, entries=(*self.entries, entry))

    def corrected(self, place: int, grams: float, typed: str = "") -> Bowl:
        """The bowl as if another weight had been entered at that place; answers given after it are asked for anew."""
        changed = replace(self.entries[place], grams=grams, typed=typed)
        later = (each for each in self.entries[place + 1 :] if each.done not in ("correct", "leave"))
        return replace(self, entries=(*self.entries[:place], changed, *later))

    def _missing(self) -> list[Step]:
        """What is missing of each material, in order; of the cement, without what pre-blends still bring."""
        steps, brought = list[Step](), 0.0
        for each in self.order[2:-1]:
            missing = self._final(each.material) - self.inside.get(each.material, 0.0)
            if each.kind == "preblend":
                brought += max(missing, 0.0) * (1 / PREBLEND_SHARE - 1)
                missing /= PREBLEND_SHARE
            steps.append(replace(each, grams=round_to(missing, self.scale_step_g)))
        cement = self._final(self.sheet.base) - self.inside.get(self.sheet.base, 0.0) - brought
        return [Step("cement", self.sheet.base, round_to(cement, self.bulk_step_g)), *steps, *self._water()]

    def _water(self) -> list[Step]:
        wet = self.inside.get(WATER, 0.0)
        missing = self.targets[WATER] - wet
        if missing < self._near(WATER) or self._closed(WATER):
            return []
        most = max(self.water_most_g - wet, missing)
        return [Step("water", WATER, round_to(missing, self.bulk_step_g), round_to(most, self.bulk_step_g))]

    def _counts(self, step: Step) -> bool:
        """Whether what is missing can be weighed; a pre-blend is weighed on the pigment scale."""
        return step.grams >= (self._near(step.material) if step.kind == "cement" else _NEAR * self.scale_step_g)

    def _near(self, material: str) -> float:
        """Grams that may be missing of a material, or too many, without a word."""
        least = _NEAR * self.least(material)
        return max(least, _CEMENT_NEAR * self.sheet.cement_g) if material == self.sheet.base else least

    def _closed(self, material: str) -> bool:
        """Whether it was said that there is enough of it, after the last answer to a mistake."""
        for each in reversed(self.entries):
            if each.done in ("correct", "leave"):
                return False
            if each.done == "enough" and each.material == material:
                return True
        return False

    def _final(self, material: str) -> float:
        """Grams in the finished bowl: what is missing by less than the scale shows stays missing."""
        there, wanted = self.inside.get(material, 0.0), self.targets.get(material, 0.0)
        enough = there > 0 and wanted - there < self._near(material)
        return there if enough or self._closed(material) else wanted


def _inside(bowl: Bowl, entries: Collection[Entry]) -> FrozenMapping[str, float]:
    grams: dict[str, float] = {}
    for each in entries:
        if each.done != "weighed":
            continue
        blended = each.material in bowl.preblend
        own = each.grams * (PREBLEND_SHARE if blended else 1.0)
        grams[each.material] = round(grams.get(each.material, 0.0) + own, 6)
        if blended:
            grams[bowl.sheet.base] = round(grams.get(bowl.sheet.base, 0.0) + each.grams - own, 6)
    return FrozenMapping(grams)
