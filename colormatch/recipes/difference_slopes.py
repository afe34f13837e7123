"""First and second derivatives of CIEDE2000 in one of its colours, by central differences."""

from __future__ import annotations

import numpy as np

from ..arrays import FloatArray
from ..difference import delta_e_2000, delta_e_2000_parts

_NUDGE = 0.05  # CIELAB units, for derivatives of CIEDE2000
_NUDGES = np.concatenate([np.zeros((1, 3)), _NUDGE * np.eye(3), -_NUDGE * np.eye(3)])
_PAIRS = ((0, 1), (0, 2), (1, 2))
_AHEAD = _NUDGE * np.concatenate([np.eye(3), [np.eye(3)[i] + np.eye(3)[j] for i, j in _PAIRS]])
_STENCIL = np.concatenate([np.zeros((1, 3)), _AHEAD, -_AHEAD])


def parts_and_slopes(targets: FloatArray, lab: FloatArray) -> tuple[FloatArray, FloatArray]:
    """`delta_e_2000_parts` (m, 3) and their derivatives (m, part, 3) in the second colour, all (m, 3)."""
    parts = delta_e_2000_parts(targets[:, None, :], lab[:, None, :] + _NUDGES)  # (m, 7, 3)
    by_lab = (parts[:, 1:4] - parts[:, 4:7]) / (2 * _NUDGE)
    return parts[:, 0], np.swapaxes(by_lab, 1, 2)


def square_and_curvature(targets: FloatArray, lab: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """CIEDE2000 squared (m,), gradient (m, 3) and second derivatives (m, 3, 3) in `lab` (m, 3)."""
    square = delta_e_2000(targets[:, None, :], lab[:, None, :] + _STENCIL) ** 2  # (m, 13)
    here, ahead, behind = square[:, 0], square[:, 1:7], square[:, 7:13]
    bend = (ahead + behind - 2 * here[:, None]) / _NUDGE**2
    curvature = np.empty((len(lab), 3, 3))
    for i in range(3):
        curvature[:, i, i] = bend[:, i]
    for place, (i, j) in enumerate(_PAIRS, start=3):
        curvature[:, i, j] = curvature[:, j, i] = (bend[:, place] - bend[:, i] - bend[:, j]) / 2
    return here, (ahead[:, :3] - behind[:, :3]) / (2 * _NUDGE), curvature
