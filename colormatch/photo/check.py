"""Whether the chart was really hit: every patch must look like itself, given all the others.

A patch that is covered, in shadow, in glare or missed is left out and named; too many of them, and the
chart is refused rather than used.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..errors import ReferenceNotFound
from .background import Background
from .correct import CameraEstimate, Correction
from .fit import choose
from .references import FEWEST_PATCHES, Found

_FAR, _FAR_TIMES = 5.0, 6.0  # dE00 from what the others say, and times the usual of the others
_UNEVEN = 0.12  # relative scatter within a patch: an edge or a shadow runs through it
_LOST = 6.0  # dE00 on the whole: not this chart, or not these corners


def checked_correction(found: Found, prior: CameraEstimate, background: Background) -> tuple[Found, Correction]:
    """Fit, leave out patches that do not fit, fit again; raises ReferenceNotFound when too few are left."""
    correction = choose(found.seen, prior, background)
    if found.corners is None:
        return found, correction
    for _ in range(3):
        bad = _bad_patches(found, correction)
        if not bad.any():
            break
        names = [item.name for item, off in zip(found.items, bad, strict=True) if off]
        if found.are("patch").sum() - len(names) < FEWEST_PATCHES:
            raise ReferenceNotFound(_refusal(names))
        found = found.without(bad, _left_out(names))
        correction = choose(found.seen, prior, background)
    patches = found.are("patch")
    if patches.sum() < FEWEST_PATCHES or float(np.mean(correction.left_out[patches])) > _LOST:
        raise ReferenceNotFound(_refusal([]))
    return found, correction


def _bad_patches(found: Found, correction: Correction) -> NDArray[np.bool_]:
    patch, off = found.are("patch"), correction.left_out
    uneven = np.array([item.sample.spread for item in found.items]) > _UNEVEN
    return np.asarray(patch & ((off > max(_FAR, _FAR_TIMES * float(np.median(off[patch])))) | uneven))


def _left_out(names: list[str]) -> str:
    return (
        f"Not as the others say they should be, so left out: {', '.join(names)}. "
        "Look for shadow, glare, dirt or something lying on the chart, and check its corners."
    )


def _refusal(names: list[str]) -> str:
    which = f" ({', '.join(names[:6])}{' and more' if len(names) > 6 else ''})" if names else ""
    return (
        f"The chart was not sampled rightly: too many patches{which} do not have their colours. Mark the four corners "
        "again, clockwise from the outer corner of the dark-skin patch, or photograph the chart flat, whole and "
        "evenly lit."
    )
