"""A recipe: what to weigh, what it will look like, and why one would take it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from functools import cached_property, partial
from types import MappingProxyType
from typing import Any

import numpy as np

from ..notebook import chip_table
from ..palette import Palette
from ..shade import Shade
from .limits import PREBLEND_SHARE, SMALL_DOSE_STEPS, Limits

_MOST_TIMES_LARGER = 8  # a batch larger than this is no help to a small studio


@dataclass(frozen=True, slots=True)
class PreBlend:
    """A dose too small to weigh, let down in dry cement of the same base.

    Weigh blend_g of a blend of 1 part pigment and `parts_cement` parts cement: it brings pigment_g of
    pigment and cement_g of cement, by which the batch's own cement is reduced.
    """

    pigment: str
    parts_cement: int
    blend_g: float
    pigment_g: float
    cement_g: float

    @property
    def line(self) -> str:
        """One line for the weigh sheet."""
        return (
            f"{self.blend_g:g} g of a pre-blend of {self.pigment} 1:{self.parts_cement} in dry cement "
            f"({self.pigment_g:g} g pigment, {self.cement_g:g} g cement)"
        )


@dataclass(frozen=True, eq=False)
class Recipe:
    """Loads and grams at the scale's step, and what the model says of them; immutable.

    loads: name -> g per g of dry cement. grams: name -> g for limits.cement_g. delta_e: CIEDE2000 of the
    model's mean to the target. expected_delta_e: its mean over all doubt (model, casting, scale,
    target). cost: pigments for the batch, None where a price is unknown. metamerism: worst change over
    illuminants A, D50, F11, LED-B3, see metamerism_of. slip_delta_e: how far the shade moves when the
    touchiest dose is 5 % over. verdict: why one would take it; reasons: the roles it won, in words;
    cautions: what to know first.
    """

    palette: Palette = field(repr=False)
    limits: Limits = field(repr=False)
    base: str
    state: str
    target: Shade
    loads: Mapping[str, float]
    grams: Mapping[str, float]
    delta_e: float
    expected_delta_e: float
    cost: float | None
    metamerism: float
    metamerism_of: str
    slip_delta_e: float
    verdict: str = ""
    reasons: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    preblended_pigments: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "loads", MappingProxyType(dict(self.loads)))
        object.__setattr__(self, "grams", MappingProxyType(dict(self.grams)))

    def __reduce__(self) -> tuple[Any, ...]:
        # Read-only mappings cannot be pickled or copied; the plain ones they were made from can.
        own: dict[str, Any] = {each.name: getattr(self, each.name) for each in fields(self)}
        own |= {"loads": dict(self.loads), "grams": dict(self.grams)}
        return partial(Recipe, **own), ()

    def __repr__(self) -> str:
        grams = ", ".join(f"{name} {g:g} g" for name, g in self.grams.items()) or "no pigment"
        off = f"dE00 {self.delta_e:.2f}, expected {self.expected_delta_e:.2f}"
        return f"Recipe({grams} in {self.cement_g:g} g {self.base}; {off})"

    def _repr_html_(self) -> str:
        rows = [(self.target.lab, "wanted"), *((self.predict(s).lab, s) for s in ("dry", *self.palette.states))]
        return chip_table(repr(self), rows)

    @property
    def total_load(self) -> float:
        """All pigment, g per g of dry cement."""
        return float(sum(self.loads.values()))

    @property
    def cement_g(self) -> float:
        """Dry cement of the batch."""
        return self.limits.cement_g

    @property
    def in_reach(self) -> bool:
        """Whether the model's mean comes within one CIEDE2000 of the target (common practice, no source)."""
        return self.delta_e <= 1.0

    def predict(self, state: str = "dry") -> Shade:
        """The shade in a state, with the doubt of the model and of the casting."""
        return self.palette.predict(self.loads, self.base, state)

    @property
    def small_doses(self) -> tuple[str, ...]:
        """Pigments of fewer than 20 steps of the scale: weigh them as a pre-blend, or make a larger batch."""
        least = SMALL_DOSE_STEPS * self.limits.scale_step_g
        return tuple(name for name, grams in self.grams.items() if grams < least)

    @property
    def larger_batch_g(self) -> float | None:
        """Dry cement of the smallest batch whose doses all reach 20 steps, where that is within 8 times."""
        small = [self.grams[name] for name in self.small_doses]
        if not small:
            return None
        times = SMALL_DOSE_STEPS * self.limits.scale_step_g / min(small)
        return float(np.ceil(times * self.cement_g / 10) * 10) if times <= _MOST_TIMES_LARGER else None

    @cached_property
    def preblended(self) -> Recipe:
        """The same with the small doses weighed finer, as a 1:9 pre-blend; the other grams stay. Itself if none."""
        from .finding import with_preblends

        return self if self.preblended_pigments or not self.small_doses else with_preblends(self)

    @property
    def preblend(self) -> tuple[PreBlend, ...]:
        """The pre-blends of `preblended`, each with its weighing line; empty where no dose is small."""
        recipe, parts = self.preblended, round(1 / PREBLEND_SHARE) - 1
        return tuple(
            PreBlend(
                name,
                parts,
                blend_g=round(recipe.grams[name] / PREBLEND_SHARE, 6),
                pigment_g=recipe.grams[name],
                cement_g=round(recipe.grams[name] * parts, 6),
            )
            for name in recipe.preblended_pigments
            if name in recipe.grams
        )

    @property
    def weighing_lines(self) -> tuple[tuple[str, float], ...]:
        """(what, grams) in the order of weighing, by the palette's names; see `weighing`."""
        return self.weighing()

    def weighing(self, label: Callable[[str], str] = str) -> tuple[tuple[str, float], ...]:
        """(what, grams) in the order of weighing; a pre-blended recipe counts in the cement it brings.

        label: `Palette.label` for the words on the jars.
        """
        blends = {blend.pigment: blend for blend in self.preblend} if self.preblended_pigments else {}
        brought = sum(blend.cement_g for blend in blends.values())
        lines = [(label(self.base), round(self.cement_g - brought, 6))]
        for name, grams in sorted(self.grams.items(), key=lambda item: -item[1]):
            if name in blends:
                blend = blends[name]
                lines.append((f"{label(name)}, pre-blend 1:{blend.parts_cement} in {label(self.base)}", blend.blend_g))
            else:
                lines.append((label(name), grams))
        return tuple(lines)
