"""Whether the chart was really hit: every patch must look like itself, given all the others.

A patch that is covered, in shadow, in glare or missed is left out and named; too many of them, and the
chart is refused rather than used.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..errors import ReferenceNotFound
from .chart import patch_names
from .correct import Belief, Correction, choose
from .references import Found
from .sheet import Sheet

FEWEST_PATCHES = 12
_FAR, _FAR_TIMES = 5.0, 6.0  # dE00 from what the others say, and times the usual of the others
_UNEVEN = 0.12  # relative scatter within a patch: an edge or a shadow runs through it
_LOST = 6.0  # dE00 on the whole: not this chart, or not these corners
_AGAIN = (
    "Mark the four corners again, clockwise from the outer corner of the dark-skin patch, or photograph the "
    "chart flat, whole and evenly lit."
)


def checked_correction(found: Found, prior: Belief, sheet: Sheet) -> tuple[Found, Correction]:
    """Fit, leave out patches that do not fit, fit again; raises ReferenceNotFound when too few are left."""
    correction = choose(found.seen, prior, sheet)
    if found.corners is None:
        return found, correction
    for _ in range(3):
        bad = _bad_patches(found, correction)
        if not bad.any():
            break
        names = [name for name, off in zip(found.names, bad, strict=True) if off]
        if _patches(found) - len(names) < FEWEST_PATCHES:
            raise ReferenceNotFound(_refusal(names))
        found = _without(found, bad, names)
        correction = choose(found.seen, prior, sheet)
    patches = np.isin(found.names, patch_names())
    if _patches(found) < FEWEST_PATCHES or float(np.mean(correction.left_out[patches])) > _LOST:
        raise ReferenceNotFound(_refusal([]))
    return found, correction


def _bad_patches(found: Found, correction: Correction) -> NDArray[np.bool_]:
    patch = np.isin(found.names, patch_names())
    off = correction.left_out
    usual = float(np.median(off[patch]))
    return np.asarray(patch & ((off > max(_FAR, _FAR_TIMES * usual)) | (found.spread > _UNEVEN)))


def _patches(found: Found) -> int:
    return int(np.isin(found.names, patch_names()).sum())


def _without(found: Found, bad: NDArray[np.bool_], names: list[str]) -> Found:
    note = (
        f"Not as the others say they should be, so left out: {', '.join(names)}. "
        "Look for shadow, glare, dirt or something lying on the chart, and check its corners."
    )
    return replace(found.only(~bad), warnings=(*found.warnings, note))


def _refusal(names: list[str]) -> str:
    which = f" ({', '.join(names[:6])}{' and more' if len(names) > 6 else ''})" if names else ""
    return f"The chart was not sampled rightly: too many patches{which} do not have their colours. {_AGAIN}"
