"""The commands put together, and the one place where errors become a sentence and an exit status."""

from __future__ import annotations

import os
import sys
import warnings
from collections.abc import Callable, Sequence
from functools import cache
from typing import Annotated

import typer

from .. import __version__
from ..errors import ColormatchError
from . import bench, job, keeping, opening, practice, shelving

app = typer.Typer(
    name="colormatch",
    help="Pigment colour matching for cast cement: a photographed shade to grams, and the wet cast to the dry one.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

# One example a command, shown at the end of its help.
_EXAMPLES: dict[Callable[..., None], str] = {
    job.demo: "colormatch demo --card card.png",
    opening.page: "colormatch page --share",
    job.shade: "colormatch shade pot.jpg --region 820,600,1100,900",
    job.board: "colormatch board tile-board.pdf --paper Letter",
    job.recipe: "colormatch recipe --lab 52,18,20 --cement 780 --library demo",
    job.preview: 'colormatch preview "Red iron oxide=2%" titanium-white=1 --library demo',
    job.two_tones: 'colormatch two-tones "#b0603a" "#d8c8b0" --library demo',
    practice.learn: "colormatch learn --json",
    practice.next_tiles: "colormatch next-tiles --lab 52,18,20 --library demo",
    bench.today: "colormatch today --library demo",
    bench.find: "colormatch find terracotta --library demo",
    practice.drying: "colormatch drying 0=412.3 1=401.0 2=395.2 3=392.1",
}
for _command, _example in _EXAMPLES.items():
    app.command(_command.__name__.replace("_", "-"), epilog=f"Example: {_example}")(_command)
app.add_typer(shelving.app, name="shelf", epilog='Example: colormatch shelf jar "Brick red" --like red-iron-oxide')
app.add_typer(bench.app, name="bench", epilog='Example: colormatch bench plan "Rust tray" --pieces 2')
app.add_typer(
    keeping.app, name="library", help="The swatch library: export, import, back up, restore, check.",
    epilog="Example: colormatch library export my-library.zip",
)  # fmt: skip


def _say_version(asked: bool) -> None:
    if asked:
        typer.echo(f"colormatch {__version__}")
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[
        bool, typer.Option("--version", help="Say the version and leave.", is_eager=True, callback=_say_version)
    ] = False,
) -> None:
    """Pigment colour matching for cast cement: a photographed shade to grams, and the wet cast to the dry one."""


@cache
def _commands() -> Callable[..., object]:
    """All commands, put together once: many runs in one process need not pay for it again."""
    return typer.main.get_command(app)


def run(arguments: Sequence[str] | None = None) -> None:
    """Run a command and leave with its exit status."""
    try:
        with warnings.catch_warnings():
            warnings.showwarning = lambda message, *_, **__: typer.echo(f"Note: {message}", err=True)
            _commands()(args=list(arguments) if arguments is not None else None)
    except ColormatchError as error:
        _stop(str(error), 2)
    except OSError as error:
        _stop(f"{error.strerror or error}: {error.filename or ''}".rstrip(": ") + ".", 2)
    except Exception as error:  # a fault of ours: still no traceback for a maker, unless asked for
        if os.environ.get("COLORMATCH_TRACEBACK"):
            raise
        _stop(
            f"Something went wrong that is not your fault ({type(error).__name__}: {error}). "
            "Look whether it was done before you run it again; with COLORMATCH_TRACEBACK=1 it then says where.",
            1,
        )


def _stop(sentence: str, status: int) -> None:
    sys.stderr.write(sentence + "\n")
    raise SystemExit(status)
