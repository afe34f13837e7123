"""The main job on the command line: a photograph or a colour becomes a recipe in grams."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ..errors import InputError
from . import asking, wording

_CARD = Path("colour-card.png")
CementOption = Annotated[float, typer.Option(help="Dry cement of the batch, in g.")]
StepOption = Annotated[float, typer.Option(help="Smallest step of your scale, in g.")]
CapOption = Annotated[float, typer.Option(help="Most pigment in all, in per cent of the dry cement; at most 10.")]


def demo(
    card: Annotated[Path, typer.Option(help="Where the picture card is written.")] = _CARD,
    target: Annotated[int, typer.Option(help="Which of the demo's target photographs, from 1.")] = 1,
) -> None:
    """The whole main job on an invented studio: photograph, shade, recipes, wet and dry, a picture card."""
    from .demonstration import run_demo

    run_demo(card, target)


def shade(
    photo: Annotated[Path, typer.Argument(help="The photograph.")],
    region: asking.RegionOption = None,
    corners: asking.CornersOption = None,
    grey: asking.GreyOption = None,
    grey_factor: asking.GreyFactorOption = 0.18,
    proof: Annotated[Path | None, typer.Option(help="Write a picture of what was measured.")] = None,
) -> None:
    """The shade of a region of a photograph, with its doubt and what may be wrong with it."""
    if proof is not None:
        asking.picture_place(proof)
    measured = asking.photographed(photo, region, corners, grey, grey_factor)
    typer.echo("\n".join(wording.measured(measured)))
    if proof is not None:
        from ..render import proof_picture

        asking.save_picture(proof_picture(photo, [measured]), proof)
        typer.echo(f"Written: {proof}")


def recipe(
    photo: Annotated[Path | None, typer.Option(help="Photograph of the target.")] = None,
    region: asking.RegionOption = None,
    corners: asking.CornersOption = None,
    grey: asking.GreyOption = None,
    grey_factor: asking.GreyFactorOption = 0.18,
    lab: Annotated[str | None, typer.Option(help="The target as L*,a*,b* (D65, 2 degree).")] = None,
    hex_colour: Annotated[str | None, typer.Option("--hex", help="The target as a screen colour, #rrggbb.")] = None,
    base: asking.BaseOption = "white-cement",
    cement: CementOption = 780.0,
    step: StepOption = 0.1,
    cap: CapOption = 5.0,
    most: Annotated[int, typer.Option("--most", help="Most pigments in one recipe, 1 to 5.")] = 4,
    use: Annotated[str | None, typer.Option(help="Only these pigments, separated by commas.")] = None,
    never: Annotated[str | None, typer.Option(help="Never these pigments, separated by commas.")] = None,
    card: Annotated[Path | None, typer.Option(help="Write a picture card of the first recipe.")] = None,
    library: asking.LibraryOption = None,
) -> None:
    """Recipes in grams for a target: a photograph, an L*a*b* colour or a screen colour."""
    from ..recipes import explain_reach, find_recipes
    from ..studio import studio_palette

    if sum(given is not None for given in (photo, lab, hex_colour)) != 1:
        raise InputError("Give one target: --photo with --region, or --lab L,a,b, or --hex #rrggbb.")
    limits = asking.limits(cement, step, cap, most, use, never)
    if card is not None:
        asking.picture_place(card)
    if photo is None:
        wanted = asking.colour(lab, hex_colour)
    else:
        measured = asking.photographed(photo, region, corners, grey, grey_factor)
        typer.echo("\n".join(wording.measured(measured)) + "\n")
        wanted = measured.shade
    with asking.opened(library) as opened:
        palette = studio_palette(opened)
    found = find_recipes(palette, wanted, base=base, limits=limits)
    if not any(one.in_reach for one in found):
        typer.echo(explain_reach(palette, wanted, base, limits).sentence + "\n")
    typer.echo("\n".join(wording.recipes(found, wanted, palette, limits)))
    if card is not None:
        from .card import card_of

        asking.save_picture(card_of(found[0], title=f"Recipe on {palette.bases[base].label}"), card)
        typer.echo(f"\nWritten: {card}")


def preview(
    load: Annotated[list[str], typer.Argument(help="Loads in per cent: red-iron-oxide=2 titanium-white=1")],
    base: asking.BaseOption = "white-cement",
    library: asking.LibraryOption = None,
) -> None:
    """What a recipe looks like at demould, dry and sealed, with the doubt of each."""
    from ..studio import studio_palette

    with asking.opened(library) as opened:
        palette = studio_palette(opened)
    loads = asking.loads(load, palette)
    shades = {state: palette.predict(loads, base, state) for state in wording.SHOWN_STATES}
    typer.echo("\n".join([*wording.states(shades), *asking.over_maximum(loads, palette)]))
