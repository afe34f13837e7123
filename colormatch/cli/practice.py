"""Beside the main job: learning from tiles, the next tile, drying."""

from __future__ import annotations

from typing import Annotated

import typer

from ..errors import InputError
from . import asking


def learn(library: asking.LibraryOption = None) -> None:
    """Learn the palette from the library's measured tiles and keep it as a new version."""
    from ..studio import learn_studio

    with asking.opened(library) as opened:
        _, report = learn_studio(opened)
    typer.echo(report.text())


def next_tiles(
    count: Annotated[int, typer.Option(help="How many tiles you are ready to cast.")] = 3,
    lab: Annotated[list[str] | None, typer.Option(help="A shade in demand as L*,a*,b*; may be repeated.")] = None,
    base: Annotated[str | None, typer.Option(help="Only tiles on this cement.")] = None,
    library: asking.LibraryOption = None,
) -> None:
    """Which tiles to cast next to be surer of the shades in demand."""
    from ..advice import next_tiles as advise
    from ..shade import Shade
    from ..studio import shades_in_demand, studio_palette

    with asking.opened(library) as opened:
        palette = studio_palette(opened)
        typed = [Shade(asking.numbers(text, 3, "The shade")) for text in lab or []]
        shades = typed or shades_in_demand(opened)
    if not shades:
        raise InputError("The library has no shades yet; say which are in demand: --lab L,a,b.")
    for number, tile in enumerate(advise(palette, shades=shades, count=count, base=base), start=1):
        typer.echo(f"{number}. {tile.title}. {tile.why}")


def drying(
    weights: Annotated[list[str], typer.Argument(help="day=grams, such as 0=412.3 1=401.0 2=395.2 3=392.1")],
    step: Annotated[float, typer.Option(help="Smallest step of your scale, in g.")] = 0.1,
) -> None:
    """When a piece may be sealed, from its daily weights."""
    from ..bench.drying import follow_drying

    pairs = [text.partition("=") for text in weights]
    if not all(equals for _, equals, _ in pairs):
        raise InputError("Write each weight as day=grams, such as 0=412.3 1=401.0.")
    days = [asking.numbers(day, 1, "A day")[0] for day, _, _ in pairs]
    grams = [asking.numbers(mass, 1, "A weight")[0] for _, _, mass in pairs]
    typer.echo(follow_drying(days, grams, scale_step_g=step).words)
