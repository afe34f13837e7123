"""Is it a new bag or a new jar? A shift that the newest tiles of a material share, before any one of them is blamed.

The last one, two, three or five pieces of a cement (or of a pigment) are held against what all other tiles predict of
them, once as they are and once with the material's curves free to differ as those of another lot do. The logarithm of
the ratio of both densities decides whether the maker is asked.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from ..parameters import CurvePrior, base_covariance, pigment_covariance
from .tile import Tile

# Log ratio from which on the maker is asked. A new bag is begun with its blank: two that agree say most, one alone may
# be a bad photograph. Where it is not, and for a jar, it takes more: a law that misses the top of a ladder, cast last,
# looks like a new lot. Chosen on forty studios of tests/benchmarks/test_learning_lots.py; see its other forty.
_TWO_BLANKS_TELL, _ONE_BLANK_TELLS, _OTHERS_TELL = 0.5, 2.0, 6.0
_LAST = (1, 2, 3, 5)  # pieces that a new lot may have begun with; a judgement
_BAG = base_covariance(CurvePrior(shape_sd=0.1, strength_sd=0.3, length_nm=100.0), scatter_sd=0.15)
_JAR = pigment_covariance(
    CurvePrior(shape_sd=0.1, strength_sd=0.3, length_nm=100.0), CurvePrior(0.05, 0.15, length_nm=300.0)
)


@dataclass(frozen=True, slots=True)
class NewLot:
    """A question for the maker: is `name` of a new bag (kind "bag") or jar ("jar") since these tiles?

    places: the tiles in question, left aside until she answers; log_ratio: how much more probable a new lot makes
    them, as a logarithm; log_odds: by how much that is more than it takes to ask; shift: mean CIELAB (3,) by which they
    differ from what the others predict.
    """

    name: str
    kind: str
    places: tuple[int, ...]
    log_ratio: float
    log_odds: float
    shift: FloatArray

    def text(self, label: Callable[[str], str] = str) -> str:
        """The question in words; label: `Palette.label` for the words on bags and jars."""
        what = "bag" if self.kind == "bag" else "jar"
        tiles = "The newest tile" if len(self.places) == 1 else f"The newest {len(self.places)} tiles"
        words = (("lighter", "darker"), ("redder", "greener"), ("yellower", "bluer"))
        largest = int(np.argmax(np.abs(self.shift)))
        way = words[largest][int(self.shift[largest] < 0)]
        return (
            f"A new {what} of {label(self.name)}? {tiles} of it came out {way} than the others predict "
            f"({abs(self.shift[largest]):.1f} CIELAB units). They are left aside until you say: a new {what} keeps "
            "what is known of the old one and needs one blank; the same one means these are to be checked."
        )


def lots_in_question(
    tiles: Sequence[Tile],
    slopes_of: Callable[[str, str], FloatArray],
    left_out: Callable[[NDArray[np.intp]], tuple[FloatArray, FloatArray]],
    rows: Sequence[slice],
    odds: FloatArray,
    aside: Collection[int] = (),
) -> NewLot | None:
    """The likeliest new lot among the newest tiles, or None.

    slopes_of(kind, name): slopes of all readings (N, n) in the material's parameters; left_out(places): error and
    covariance of readings as all others predict them; rows: readings of each tile; odds (T,): log odds of each tile to
    be a slip, which must not explain it better; aside: tiles asked about already.
    """
    best: NewLot | None = None
    most = 0.0
    for kind, name, places in _newest(tiles, aside):
        at = np.concatenate([np.arange(rows[place].start, rows[place].stop) for place in places])
        error, covariance = left_out(at)
        own = slopes_of(kind, name)[at]
        moved = covariance + own @ (_BAG if kind == "bag" else _JAR) @ own.T
        ratio = _log_density(error, moved) - _log_density(error, covariance)
        over = ratio - _tells(kind, [tiles[place] for place in places]) - float(np.maximum(odds[places], 0.0).sum())
        if over < most:
            continue
        most = over
        best = NewLot(name, kind, tuple(places), ratio, over, error.reshape(-1, 3).mean(axis=0))
    return best


def _tells(kind: str, newest: Sequence[Tile]) -> float:
    blanks = [kind == "bag" and not any(tile.loads.values()) for tile in newest]
    if len(blanks) > 1 and all(blanks):
        return _TWO_BLANKS_TELL
    return _ONE_BLANK_TELLS if blanks[0] else _OTHERS_TELL


def _newest(tiles: Sequence[Tile], aside: Collection[int]) -> Iterator[tuple[str, str, list[int]]]:
    """The last few tiles of each material, as long as older ones of it are left to compare with."""
    materials = [("bag", name) for name in dict.fromkeys(tile.base for tile in tiles)]
    used = [name for tile in tiles for name, load in tile.loads.items() if load > 0]
    materials += [("jar", name) for name in dict.fromkeys(used)]
    for kind, name in materials:
        own = [place for place, tile in enumerate(tiles) if place not in aside and _holds(tile, kind, name)]
        pieces = list(dict.fromkeys(tiles[place].piece or f"tile {place}" for place in own))
        for last in _LAST:
            if last <= len(pieces) - 2:
                newest = set(pieces[-last:])
                yield kind, name, [place for place in own if (tiles[place].piece or f"tile {place}") in newest]


def _holds(tile: Tile, kind: str, name: str) -> bool:
    plain = tile.state == "dry" and tile.spectrum is None  # water and film are learned besides, and look alike
    return plain and (tile.base == name if kind == "bag" else tile.loads.get(name, 0.0) > 0)


def _log_density(error: FloatArray, covariance: FloatArray) -> float:
    return -0.5 * float(error @ np.linalg.solve(covariance, error) + np.linalg.slogdet(covariance)[1])
