"""Results as lines of text: shades with their uncertainty, recipes in grams, cautions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ..palette import Palette
    from ..photo import Photo
    from ..recipes import Limits, Recipe
    from ..shade import Shade

SHOWN_STATES = ("demould", "wet", "dry", "sealed")

WEIGHING_CAUTION = (
    "Caution: weigh cement and pigment without draught, with a P100 / FFP3 mask (silica and pigment dust); wet "
    "cement is caustic: gloves and goggles. Follow the safety data sheets and your local rules."
)


def colour(shade: Shade) -> str:
    """`L* 54.2  a* 18.6  b* 17.1  +- 0.9  #a06a4f`."""
    from ..colorimetry import in_srgb_gamut, lab_to_hex

    lightness, a, b = shade.lab
    screen = lab_to_hex(shade.lab) + ("" if in_srgb_gamut(shade.lab) else " (nearest; no screen shows it)")
    return f"L* {lightness:5.1f}  a* {a:6.1f}  b* {b:6.1f}  +- {shade.sd:4.1f}  {screen}"


def measured(photo: Photo) -> list[str]:
    """The shade of a photograph, the error of its reference, and every warning."""
    lines = [f"Measured  {colour(photo.shade)}"]
    if photo.reference_error == photo.reference_error:
        lines.append(
            f"Chart check: each patch predicted from the others, {photo.reference_error:.1f} dE00 off on average"
        )
    return lines + [f"Note: {warning}" for warning in photo.warnings]


def states(shades: Mapping[str, Shade]) -> list[str]:
    """One line a state."""
    return [f"{state:<8}  {colour(shade)}" for state, shade in shades.items()]


def recipe(number: int, found: Recipe, palette: Palette, currency: str) -> list[str]:
    """One recipe: what to weigh, what it will look like, how sure that is."""
    from ..bench.sheet import grams_as_shown

    cost = "" if found.cost is None else f", pigments cost about {found.cost:.2f} {currency}".rstrip()
    lines = [
        f"{number}. {found.verdict}",
        f"   load {found.total_load:.2%}, dE00 {found.delta_e:.2f} by the model, "
        f"{found.expected_delta_e:.1f} expected when cast{cost}",
    ]
    for name, grams in found.grams.items():
        shown = grams_as_shown(grams, found.limits.scale_step_g)
        lines.append(f"   {shown:>9} g  {palette.pigments[name].label}  ({found.loads[name]:.2%})")
    lines += [f"   {line}" for line in states({s: found.predict(s) for s in SHOWN_STATES})]
    if found.preblended.preblended_pigments:
        lines.append("   Small doses for this scale: weigh instead, the cement of the pre-blend taken off the cement,")
        for what, grams in found.preblended.weighing(palette.label):
            lines.append(f"   {grams_as_shown(grams, found.limits.scale_step_g):>9} g  {what}")
    return lines + [f"   Note: {caution}" for caution in found.cautions]


def recipes(found: Sequence[Recipe], target: Shade, palette: Palette, limits: Limits, currency: str = "") -> list[str]:
    """A short list of recipes with the target above and the cautions below."""
    lines = [
        f"Target    {colour(target)}",
        f"For {limits.cement_g:g} g of dry cement, cap {limits.load_cap:.1%}:",
    ]
    for number, one in enumerate(found, start=1):
        lines += ["", *recipe(number, one, palette, currency)]
    return [*lines, "", WEIGHING_CAUTION]


def table_of_recipes(rows: Sequence[tuple[str, Shade, Recipe, str]]) -> list[str]:
    """One line a target: its name, how far off to expect, and what to weigh."""
    width = max(len(name) for name, *_ in rows)
    lines = []
    for name, _, first, reach in rows:
        weighed = ", ".join(f"{first.palette.label(each)} {grams:g} g" for each, grams in first.grams.items())
        far = f"out of reach, {first.delta_e:.1f} dE00 off" if reach else f"about {first.expected_delta_e:.1f} dE00 off"
        lines.append(f"{name:<{width}}  {far}: {weighed or 'bare cement'}")
    return [*lines, "", WEIGHING_CAUTION]
