"""The commands put together, and the one place where errors become a sentence and an exit status."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

import typer

from ..errors import ColormatchError
from . import job, keeping, opening, practice

app = typer.Typer(
    name="colormatch",
    help="Pigment colour matching for cast cement: a photographed shade to grams, and the wet cast to the dry one.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
app.command("demo")(job.demo)
app.command("page")(opening.page)
app.command("shade")(job.shade)
app.command("recipe")(job.recipe)
app.command("preview")(job.preview)
app.command("learn")(practice.learn)
app.command("next-tiles")(practice.next_tiles)
app.command("drying")(practice.drying)
app.add_typer(keeping.app, name="library", help="The swatch library: export, import, back up, restore, check.")


def run(arguments: Sequence[str] | None = None) -> None:
    """Run a command and leave with its exit status."""
    try:
        app(args=list(arguments) if arguments is not None else None)
    except ColormatchError as error:
        _stop(str(error), 2)
    except OSError as error:
        _stop(f"{error.strerror or error}: {error.filename or ''}".rstrip(": ") + ".", 2)
    except Exception as error:  # a fault of ours: still no traceback for a maker, unless asked for
        if os.environ.get("COLORMATCH_TRACEBACK"):
            raise
        _stop(
            f"Something went wrong that is not your fault ({type(error).__name__}: {error}). "
            "Nothing was changed. Set COLORMATCH_TRACEBACK=1 and run it again to see where.",
            1,
        )


def _stop(sentence: str, status: int) -> None:
    sys.stderr.write(sentence + "\n")
    raise SystemExit(status)
