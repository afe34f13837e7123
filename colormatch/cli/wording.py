"""Results as lines of text: shades with their uncertainty, recipes in grams, cautions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from ..basis import Amounts
from ..states import in_order

if TYPE_CHECKING:
    from ..lamps import Lamp
    from ..palette import Palette
    from ..photo import Photo
    from ..recipes import Limits, Recipe, Row
    from ..shade import Shade

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
    width = max(8, *map(len, shades))
    return [f"{state:<{width}}  {colour(shade)}" for state, shade in shades.items()]


def notation(shade: Shade) -> list[str]:
    """Its name in the Munsell system, where it has one."""
    from ..science import munsell

    name = munsell(shade.lab)
    return [] if name is None else [f"Munsell   {name}  (a system of colour chips: hue, value, chroma)"]


def spectra(found: Mapping[str, tuple[Shade, object]]) -> list[str]:
    """One shade a sample."""
    width = max(len(name) for name in found)
    return [
        line
        for name, (shade, _) in found.items()
        for line in (f"{name:<{width}}  {colour(shade)}", *(f"{'':<{width}}  {each}" for each in notation(shade)))
    ]


def amounts(palette: Palette, loads: Mapping[str, float], shown: Amounts) -> list[str]:
    """One line a pigment, the basis beside the number."""
    return [f"{palette.label(name)}: {words}" for name, words in shown.said(loads).items()]


def in_lights(found: Sequence[Recipe], lamps: Sequence[Lamp]) -> list[str]:
    """What each recipe turns to under the lights asked for: its own change, and the miss where a spectrum is wanted."""
    from ..saying import seen

    where = " or ".join(lamp.name for lamp in lamps)
    lines = [f"From daylight to {where}, the recipe's own change (not a miss of the match), at most:"]
    for number, one in enumerate(found, start=1):
        missed = "" if one.metamerism is None else f"; against the wanted spectrum it is off by {one.metamerism:.1f}"
        lines.append(f"  {number}. {one.inconstancy:.1f} dE00: {seen(one.inconstancy)}{missed}")
    return lines


def recipe(number: int, found: Recipe, palette: Palette, currency: str, shown: Amounts) -> list[str]:
    """One recipe: what to weigh, what it will look like, how sure that is."""
    from ..bench.sheet import grams_as_shown

    # Where the uncertainty drowns it, the distance by the model would only mislead.
    by_model = "" if found.drowned else f", dE00 {found.delta_e:.2f} by the model"
    said = shown.said(found.loads)
    cost = "" if found.cost is None else f", pigments cost about {found.cost:.2f} {currency}".rstrip()
    lines = [
        f"{number}. {found.verdict}",
        f"   {shown.total(found.loads)} pigment{by_model}{cost}",
    ]
    for name, grams in found.grams.items():
        to_weigh = grams_as_shown(grams, found.limits.scale_step_g)
        lines.append(f"   {to_weigh:>9} g  {palette.pigments[name].label}  ({said[name]})")
    lines += [f"   {line}" for line in states({s: found.predict(s) for s in in_order(("dry", *palette.states))})]
    if found.preblended.preblended_pigments:
        lines.append("   Small doses for this scale: weigh instead, the cement of the pre-blend taken off the cement,")
        for what, grams in found.preblended.weighing(palette.label):
            lines.append(f"   {grams_as_shown(grams, found.limits.scale_step_g):>9} g  {what}")
    return lines + [f"   Note: {caution}" for caution in found.cautions]


def recipes(
    found: Sequence[Recipe],
    target: Shade,
    palette: Palette,
    limits: Limits,
    currency: str = "",
    shown: Amounts | None = None,
) -> list[str]:
    """A short list of recipes with the target above and the cautions below."""
    lines = [
        f"Target    {colour(target)}",
        f"For {limits.cement_g:g} g of dry cement, cap {limits.load_cap:.1%}:",
    ]
    for number, one in enumerate(found, start=1):
        lines += ["", *recipe(number, one, palette, currency, shown or Amounts())]
    return [*lines, "", WEIGHING_CAUTION]


def table_of_recipes(rows: Sequence[Row], buy: Sequence[str] = ()) -> list[str]:
    """One line a target: its name, how far off to expect, and what to weigh; then what is worth buying."""
    from ..bench.sheet import grams_as_shown

    width = max(len(row.name) for row in rows)
    lines = []
    for row in rows:
        first = row.recipe
        step = first.limits.scale_step_g
        weighed = ", ".join(
            f"{what} {grams_as_shown(grams, step)} g" for what, grams in first.preblended.weighing(first.palette.label)
        )
        far = f"about {first.expected_delta_e:.1f} dE00 off"
        far = f"out of reach, {first.delta_e:.1f} dE00 off" if row.out_of_reach else far
        lines.append(f"{row.name:<{width}}  {far}: {weighed}")
    worth = ["", "Worth buying for these shades:", *(f"  {sentence}" for sentence in buy)] if buy else []
    return [*lines, *worth, "", WEIGHING_CAUTION]
