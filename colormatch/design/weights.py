"""What goes in each bowl: shares by volume to grams of cement, pigment and water.

All grams are whole ticks of the scale, counted as integers, so that what is weighed adds up exactly.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import floor

from ..arrays import number_between
from ..difference import delta_e_2000
from ..errors import InputError, LoadError
from ..loads import ASTM_C979_MAXIMUM
from ..palette import Palette
from .designs import Design, Tone

WATER_RATIO = 0.25  # g water per g dry cement; cement to water 4:1, common practice, no source
STUDIO_CAP = 0.05  # g pigment per g dry cement; common practice, no source

# g/cm3. Portland cement about 3.1; pigments whose density nobody entered: about that of iron oxides
# (both from memory). A bowl's density moves by 2 % over the whole range of loads, so neither matters much.
CEMENT_DENSITY = 3.1
UNKNOWN_PIGMENT_DENSITY = 4.5
WATER_DENSITY = 1.0

_DIGITS = 6  # of a gram: takes off what floating point adds to a whole number of ticks
_WORTH_SAYING = 0.5  # dE00 by which rounding to the scale may move a shade without a word


@dataclass(frozen=True, slots=True)
class Bowl:
    """One tone's bowl, in grams as the scale shows them, each a whole number of scale steps.

    cap_g: the most pigment this much cement may take. volume_ml: without entrained air.
    rounding_delta_e: dE00, dry, between the recipe and what the scale lets one weigh.
    """

    base: str
    cement_g: float
    water_g: float
    pigments_g: Mapping[str, float]
    cap_g: float
    volume_ml: float
    rounding_delta_e: float
    warnings: tuple[str, ...] = ()

    @property
    def pigment_g(self) -> float:
        """All pigments together."""
        return round(sum(self.pigments_g.values()), _DIGITS)

    @property
    def total_g(self) -> float:
        """Everything in the bowl."""
        return round(self.cement_g + self.water_g + self.pigment_g, _DIGITS)

    @property
    def loads(self) -> dict[str, float]:
        """The loads as weighed, g per g of dry cement."""
        return {name: grams / self.cement_g for name, grams in self.pigments_g.items()}


def tone_cap(tone: Tone, palette: Palette, load_cap: float = STUDIO_CAP) -> float:
    """The most pigment a tone may carry, g per g of dry cement.

    The studio's cap, lowered to the smallest maximum of the pigments used (ASTM C979 clause 1.4).
    Raises LoadError when the tone is over it, UnknownNameError for a pigment not in the palette.
    """
    number_between(load_cap, name="The cap on the load", low=0, high=ASTM_C979_MAXIMUM, open_low=True)
    palette.load_vector(tone.loads)
    used = [name for name, load in tone.loads.items() if load > 0]
    cap = min([load_cap, *(palette.pigments[name].maximum_load for name in used)])
    total = sum(tone.loads.values())
    if total > cap * (1 + 1e-9):
        raise LoadError(
            f"A tone carries {total:.2%} of pigment; with {', '.join(used)} the cap is {cap:.2%} of the dry "
            "cement. Lower its loads, or choose another recipe."
        )
    return cap


def wet_density(loads: Mapping[str, float], palette: Palette, *, water_ratio: float = WATER_RATIO) -> float:
    """Density of the wet mix in g/ml, from the volumes of its parts; entrained air left out."""
    mass, volume = 1 + water_ratio, 1 / CEMENT_DENSITY + water_ratio / WATER_DENSITY
    for name, load in loads.items():
        mass += load
        volume += load / (palette.pigments[name].density_g_cm3 or UNKNOWN_PIGMENT_DENSITY)
    return mass / volume


def bowl_weights(
    design: Design,
    palette: Palette,
    *,
    scale_step_g: float = 0.1,
    water_ratio: float = WATER_RATIO,
    load_cap: float = STUDIO_CAP,
) -> tuple[Bowl, Bowl]:
    """Cement, water and pigments of each bowl; the bowls add up to fill x pieces x (1 + waste).

    Shares are by volume; a bowl's mass is its share times the density of its own mix (`wet_density`).
    A fill in grams is taken as the mass of one finished piece's mix, both tones together.
    Pigments are rounded to the scale's step but never past the cap; water takes up the rest, so its ratio
    may be off by a step or two. Raises LoadError over the cap, InputError where the scale is too coarse.
    """
    number_between(scale_step_g, name="The scale's step", low=0.001, high=50, unit="g")
    number_between(water_ratio, name="The water ratio", low=0.1, high=1)
    caps = [tone_cap(tone, palette, load_cap) for tone in design.tones]
    densities = [wet_density(tone.loads, palette, water_ratio=water_ratio) for tone in design.tones]
    by_share = [tone.share * rho for tone, rho in zip(design.tones, densities, strict=True)]
    piece_g = design.mould.fill_g or (design.mould.fill_ml or 0.0) * sum(by_share)
    total_ticks = round(piece_g * design.pieces * (1 + design.waste) / scale_step_g)
    first = round(total_ticks * by_share[0] / sum(by_share))
    sizes = (first, total_ticks - first)
    one, two = (
        _bowl(tone, palette, size, scale_step_g, water_ratio, cap)
        for tone, size, cap in zip(design.tones, sizes, caps, strict=True)
    )
    return one, two


def _bowl(tone: Tone, palette: Palette, ticks: int, step_g: float, water_ratio: float, cap: float) -> Bowl:
    loads = {name: load for name, load in tone.loads.items() if load > 0}
    cement = round(ticks / (1 + water_ratio + sum(loads.values())))
    pigments = _pigment_ticks(loads, cement, floor(cap * cement + 1e-9))
    water = ticks - cement - sum(pigments.values())
    if cement < 1 or water < 1:
        raise InputError(
            f"A bowl of {ticks * step_g:g} g is too small for a scale that reads {step_g:g} g. "
            "Make more pieces at once, raise this tone's share, or use a finer scale."
        )
    weighed = {name: count / cement for name, count in pigments.items()}
    moved = _dry_distance(palette, tone.base, loads, weighed)
    warnings: tuple[str, ...] = ()
    if moved > _WORTH_SAYING:
        warnings = (
            f"The scale reads {step_g:g} g: rounding moves this tone by {moved:.1f} dE00. "
            "A larger batch or a finer scale keeps the recipe.",
        )
    return Bowl(
        base=tone.base,
        cement_g=round(cement * step_g, _DIGITS),
        water_g=round(water * step_g, _DIGITS),
        pigments_g={name: round(count * step_g, _DIGITS) for name, count in pigments.items()},
        cap_g=cap * cement * step_g,
        volume_ml=ticks * step_g / wet_density(weighed, palette, water_ratio=water / cement),
        rounding_delta_e=moved,
        warnings=warnings,
    )


def _pigment_ticks(loads: Mapping[str, float], cement: int, cap_ticks: int) -> dict[str, int]:
    """Nearest ticks, then down where rounding up hurt least, until the sum is within the cap."""
    wanted = {name: load * cement for name, load in loads.items()}
    ticks = {name: round(amount) for name, amount in wanted.items()}
    while sum(ticks.values()) > cap_ticks:
        above = {name: ticks[name] - wanted[name] for name in ticks if ticks[name] > 0}
        ticks[max(above, key=lambda name: above[name])] -= 1
    return ticks


def _dry_distance(palette: Palette, base: str, loads: Mapping[str, float], weighed: Mapping[str, float]) -> float:
    if not loads:
        return 0.0
    both = palette.predict_many([palette.load_vector(loads), palette.load_vector(weighed)], base=base)
    return float(delta_e_2000(both[0], both[1]))
