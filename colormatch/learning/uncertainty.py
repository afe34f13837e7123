"""Uncertainty in words a maker uses: what colour difference to expect from a covariance."""

from __future__ import annotations

from functools import cache

import numpy as np

from ..arrays import FloatArray, read_only
from ..difference import delta_e_2000

_DRAWS = 128
_WORDS = ((1.0, "sure"), (2.0, "good"), (4.0, "rough"), (np.inf, "a guess"))


def expected_delta_e(lab: FloatArray, covariance: FloatArray) -> FloatArray:
    """Mean CIEDE2000 (...) between lab (..., 3) and what comes out, with error covariance (..., 3, 3).

    Over a fixed set of normal draws, mirrored so that their mean is zero.
    """
    variances, axes = np.linalg.eigh(covariance)
    root = axes * np.sqrt(np.maximum(variances, 0.0))[..., None, :]
    errors = np.moveaxis(root @ _draws().T, -1, 0)  # (draws, ..., 3)
    return np.asarray(delta_e_2000(lab, lab + errors).mean(axis=0))


def trust_in_words(delta_e: float) -> str:
    """Below 1 dE00 "sure", below 2 "good", below 4 "rough", else "a guess" (common practice, no source)."""
    return next(word for limit, word in _WORDS if delta_e < limit)


@cache
def _draws() -> FloatArray:
    half = np.random.default_rng(0).standard_normal((_DRAWS // 2, 3))
    half /= np.sqrt((half**2).mean(axis=0))
    return read_only(np.concatenate([half, -half]))
