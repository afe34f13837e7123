"""Whether chart and board were really hit: every patch and tile must look like itself, given all the others.

A patch that is covered, in shadow, in glare or missed is left out and named; too many of them, and the
chart is refused rather than used.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..errors import ReferenceNotFound
from .background import Background
from .board import FEWEST_TILES
from .correct import CameraEstimate, Correction
from .fit import choose
from .references import FEWEST_PATCHES, Found

# dE00 from what the others say, and times the usual of the others. At 3.5 a patch faded by 5 is named in 11 of 12
# simulated frames, and no sound one in 72. Tiles are fewer, and each known less well.
_FAR = {"patch": (3.5, 6.0), "tile": (4.0, 4.0)}
_UNEVEN = 0.12  # relative scatter within a patch: an edge or a shadow runs through it
_LOST = 6.0  # dE00 on the whole: not this chart, or not these corners


def checked_correction(found: Found, prior: CameraEstimate, background: Background) -> tuple[Found, Correction]:
    """Fit, leave out patches and tiles that do not fit, fit again; raises ReferenceNotFound when too few are left."""
    correction = choose(found.seen, prior, background)
    for _ in range(3):
        bad = _bad(found, correction)
        if not bad.any():
            break
        names = [item.name for item, off in zip(found.items, bad, strict=True) if off]
        if _too_few(found.without(bad, "")):
            raise ReferenceNotFound(_refusal(found, names))
        found = found.without(bad, _left_out(names))
        correction = choose(found.seen, prior, background)
    checked = found.are("patch") | found.are("tile")
    if _too_few(found) or (checked.any() and float(np.mean(correction.left_out[checked])) > _LOST):
        raise ReferenceNotFound(_refusal(found, []))
    return found, correction


def _too_few(found: Found) -> bool:
    patches, tiles = found.are("patch").sum(), found.are("tile").sum()
    chart, board = found.corners is not None, found.board is not None
    return bool((chart and patches < FEWEST_PATCHES) or (board and tiles < FEWEST_TILES))


def _bad(found: Found, correction: Correction) -> NDArray[np.bool_]:
    """Patches and tiles far from what the others say, and patches that are not even."""
    off = correction.left_out
    bad = np.zeros(len(off), dtype=np.bool_)
    for kind, (far, times) in _FAR.items():
        these = found.are(kind)
        if these.any():
            bad |= these & (off > max(far, times * float(np.median(off[these]))))
    uneven = np.array([item.sample.spread for item in found.items]) > _UNEVEN
    return np.asarray(bad | (found.are("patch") & uneven))


def _left_out(names: list[str]) -> str:
    return (
        f"Not as the others say they should be, so left out: {', '.join(names)}. "
        "Look for shadow, glare, dirt, something lying on it or another tile in its place, and check the corners."
    )


def _refusal(found: Found, names: list[str]) -> str:
    which = f" ({', '.join(names[:6])}{' and more' if len(names) > 6 else ''})" if names else ""
    if found.corners is None:
        return (
            f"The tile board was not read rightly: too many tiles{which} do not have their colours. Check that each "
            "lies in its own window and that the shades given are those of this board."
        )
    return (
        f"The chart was not sampled rightly: too many patches{which} do not have their colours. Mark the four corners "
        "again, clockwise from the outer corner of the dark-skin patch, or photograph the chart flat, whole and "
        "evenly lit."
    )
