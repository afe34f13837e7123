"""The studio's board of own tiles: measured once, kept, and from then on a reference for photographs."""

from __future__ import annotations

from collections.abc import Sequence

from ..errors import InputError
from ..library import Draft, Library, draft, save_draft
from ..photo import TileBoard
from ..photo.board import FEWEST_TILES, WINDOWS
from ..shade import Shade

BOARD = "tile board"


def keep_board(library: Library, shades: Sequence[Shade | None], *, device: str = "") -> Draft:
    """Keep the shades of the board's twelve windows, in their order; None: nothing lies there. Raises InputError.

    From `measure_board` (with a chart beside the board, once) or from the library's own shades.
    """
    laid = sum(shade is not None for shade in shades)
    if len(shades) != WINDOWS or laid < FEWEST_TILES:
        raise InputError(
            f"A board has {WINDOWS} windows with {FEWEST_TILES} tiles or more; got {len(shades)} and {laid} tiles. "
            "Lay more tiles and measure the board again."
        )
    content = {"windows": [_plain(shade) if shade else {} for shade in shades]}
    return save_draft(library, BOARD, content=content, seen=draft(library, BOARD), title="Tile board", device=device)


def own_board(library: Library) -> TileBoard | None:
    """The board as kept, to be given as a reference; None while there is none."""
    kept = draft(library, BOARD)
    if kept is None:
        return None
    windows = kept.content["windows"]
    return TileBoard([Shade(each["lab"], covariance=each["covariance"]) if each else None for each in windows])


def _plain(shade: Shade) -> dict[str, list[float] | list[list[float]]]:
    return {"lab": shade.lab.tolist(), "covariance": shade.covariance.tolist()}
