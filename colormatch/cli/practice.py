"""Beside the main job: learning from tiles, the next tile, drying."""

from __future__ import annotations

from typing import Annotated

import typer

from ..errors import InputError
from . import amounts, answers, asking


def learn(as_json: answers.JsonOption = False, library: asking.LibraryOption = None) -> None:
    """Learn from the library's measured tiles and pieces; kept as a new version when there is something new."""
    from ..studio import learn_studio

    with asking.opened(library) as opened:
        _, report = learn_studio(opened)
    answer = {
        "tiles": len(report.tiles),
        "mean_delta_e": round(report.mean_delta_e, 3),
        "coverage": report.coverage,
        "outliers": [f"{suspect.title}: {suspect.reason}" for suspect in report.suspects],
        "warnings": list(report.warnings),
    }
    answers.tell([report.text()], answer, as_json=as_json)


def next_tiles(
    count: Annotated[int, typer.Option(help="How many tiles you are ready to cast.")] = 3,
    lab: Annotated[list[str] | None, typer.Option(help="A shade in demand as L*,a*,b*; may be repeated.")] = None,
    base: Annotated[str | None, typer.Option(help="Only tiles on this cement.")] = None,
    as_json: answers.JsonOption = False,
    library: asking.LibraryOption = None,
) -> None:
    """Which tiles to cast next, of your own jars, so that the shades in demand are predicted better."""
    from ..advice import next_tiles as advise
    from ..shade import Shade
    from ..studio import shades_in_demand, studio_palette
    from ..workshop.shelf import offer

    with asking.opened(library) as opened:
        palette = offer(opened, studio_palette(opened))
        typed = [Shade(asking.numbers(text, 3, "The shade")) for text in lab or []]
        shades = typed or shades_in_demand(opened)
    if not shades:
        raise InputError("The library has no shades yet; say which are in demand: --lab L,a,b.")
    advised = advise(palette, shades=shades, count=count, base=None if base is None else asking.base(palette, base))
    answer = [
        {"base": one.base, "loads": dict(one.loads), "state": one.state, "before": one.before, "after": one.after}
        for one in advised
    ]
    lines = [f"{number}. {tile.title}. {tile.why}" for number, tile in enumerate(advised, start=1)]
    answers.tell(lines, {"tiles": answer}, as_json=as_json)


def drying(
    weights: Annotated[
        list[str], typer.Argument(help="day=grams, such as 0=412.3 1=401.0 2=395.2; or 24h=401g, 1d=0.401kg")
    ],
    step: Annotated[str, typer.Option(help="Smallest step of your scale, in g.")] = "0.1",
    as_json: answers.JsonOption = False,
) -> None:
    """When a piece may be sealed, from its daily weights."""
    from ..bench.drying import follow_drying

    days, grams = amounts.weights(weights)
    found = follow_drying(days, grams, scale_step_g=amounts.grams(step, name="The scale's step", high=50))
    answers.tell([found.words], {"verdict": found.verdict, "words": found.words}, as_json=as_json)
