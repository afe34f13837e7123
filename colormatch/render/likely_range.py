"""The likely range of a shade as two further shades: where it may lie, on the side it is least sure of."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtri

from ..arrays import FloatArray
from ..shade import Shade

_NINETY = float(ndtri(0.95))  # half a 90 % interval, in sd


def likely_ends(shade: Shade) -> tuple[FloatArray, FloatArray]:
    """(lighter end, darker end), CIELAB (3,) each: the 90 % range along the direction of largest variance.

    Both are the shade itself where it is exact. L* is kept within 0..100.
    """
    variances, axes = np.linalg.eigh(shade.covariance)
    reach = _NINETY * np.sqrt(max(float(variances[-1]), 0.0)) * axes[:, -1]
    reach = -reach if reach[0] < 0 else reach
    lighter, darker = shade.lab + reach, shade.lab - reach
    for end in (lighter, darker):
        end[0] = np.clip(end[0], 0.0, 100.0)
    return lighter, darker
