"""Beside the main job: learning from tiles, the next tile, drying."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from ..errors import InputError
from . import amounts, answers, asking


def learn(
    cast_list: Annotated[
        Path | None, typer.Option(help="A cast list that next-tiles saved, with the measured L, a, b filled in.")
    ] = None,
    as_json: answers.JsonOption = False,
    library: asking.LibraryOption = None,
) -> None:
    """Learn from the library's measured tiles and pieces; kept as a new version when there is something new."""
    from ..studio import learn_studio, left_out, studio_palette
    from ..workshop.tile_list import taken_in

    with asking.opened(library) as opened:
        if cast_list is not None:
            taken_in(opened, studio_palette(opened), cast_list)
        _, report = learn_studio(opened)
        unusable = [f"The shade {shade.uid} is left out: {why}" for shade, why in left_out(opened)]
    answer = {
        "tiles": len(report.tiles),
        "mean_delta_e": round(report.mean_delta_e, 3),
        "coverage": report.coverage,
        "outliers": [f"{suspect.title}: {suspect.reason}" for suspect in report.suspects],
        "left_out": unusable,
        "warnings": list(report.warnings),
    }
    answers.tell([report.text(), *unusable], answer, as_json=as_json)


def next_tiles(
    count: Annotated[int, typer.Option(help="How many tiles you are ready to cast; five bring most.")] = 5,
    lab: Annotated[list[str] | None, typer.Option(help="A shade in demand as L*,a*,b*; may be repeated.")] = None,
    base: Annotated[str | None, typer.Option(help="Only tiles on this cement.")] = None,
    cement: Annotated[str, typer.Option(help="Dry cement of one tile, in g.")] = "100",
    save: Annotated[
        Path | None, typer.Option(help="Save the list as a table (.csv): weigh, fill in L, a, b, learn --cast-list.")
    ] = None,
    as_json: answers.JsonOption = False,
    library: asking.LibraryOption = None,
) -> None:
    """Which tiles to cast next, of your own jars, so that the shades in demand are predicted better."""
    from ..advice import next_tiles as advise
    from ..bench.cast_list import CastList
    from ..shade import Shade
    from ..studio import shades_in_demand, studio_palette
    from ..workshop.shelf import defaults, offer
    from ..workshop.tile_list import as_table, with_pieces

    cement_g = amounts.grams(cement, name="The cement of a tile", high=5000)
    with asking.opened(library) as opened:
        palette = offer(opened, studio_palette(opened))
        typed = [Shade(asking.numbers(text, 3, "The shade")) for text in lab or []]
        shades = typed or shades_in_demand(opened)
        step = defaults(opened).scale_step_g
    if not shades:
        raise InputError("The library has no shades yet; say which are in demand: --lab L,a,b.")
    advised = advise(palette, shades=shades, count=count, base=None if base is None else asking.base(palette, base))
    worth = [one for one in advised if one.worth_casting]
    cast = with_pieces(CastList.of(worth, cement_g=cement_g, scale_step_g=step))
    if save is not None:
        _save_table(save, as_table(cast, palette))
    answer = [
        {"base": one.base, "loads": dict(one.loads), "state": one.state, "before": one.before, "after": one.after}
        for one in worth
    ]
    lines = [
        f"{number}. {tile.title}. {tile.why}\n   Weigh: {'; '.join(cast.lines(number - 1, palette.label))}"
        for number, tile in enumerate(worth, start=1)
    ]
    off = f"{advised[0].before:.1f}"
    then = "Then make recipes." if worth else f"Nothing is worth casting: recipes are about {off} dE00 off. Make them."
    answers.tell([*lines, then], {"tiles": answer}, as_json=as_json)


def _save_table(place: Path, table: str) -> None:
    from ..library.files import write_whole

    if place.exists():
        raise InputError(f"{str(place)!r} is there already, perhaps with what was measured. Choose another name.")
    write_whole(place, table.encode())


def drying(
    weights: Annotated[
        list[str], typer.Argument(help="day=grams, such as 0=412.3 1=401.0 2=395.2; or 24h=401g, 1d=0.401kg")
    ],
    step: Annotated[str, typer.Option(help="Smallest step of your scale, in g.")] = "0.1",
    as_json: answers.JsonOption = False,
) -> None:
    """When a piece may be sealed, from its daily weights."""
    from ..arrays import SCALE_STEPS_G
    from ..bench.drying import follow_drying

    days, grams = amounts.weights(weights)
    step_g = amounts.grams(step, name="The scale's step", high=SCALE_STEPS_G[1])
    found = follow_drying(days, grams, scale_step_g=step_g)
    answers.tell([found.words], {"verdict": found.verdict, "words": found.words}, as_json=as_json)
