"""Consistency: the shade of each batch against its standard over time, within the maker's own scatter.

Self-starting: every batch is judged by what the good batches before it predict (Hawkins 1987; Sullivan & Jones,
Technometrics 44 (2002) 24), so limits hold from the second batch on and a change does not widen its own limits.
The prediction is the Student t of a normal sample whose mean starts at the standard and whose scatter starts
at the palette's from cast to cast. Two signals, both on a scale where a good batch is chi-square with 3
degrees of freedom: one batch far off (Hotelling's T2), and a drift (the exponentially weighted mean of
Lowry et al., Technometrics 34 (1992) 46). Citations from memory; the false alarms are measured in the tests.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri

from ..arrays import FloatArray, number_between
from ..difference import delta_e_2000
from ..errors import InputError
from ..shade import Shade

CAST_SD = 0.8  # CIELAB units per number; from memory, a learned palette has its own
T2_LIMIT = float(chdtri(3, 0.0027))  # chi-square, 3 degrees of freedom: as rare as three sigma
DRIFT_LIMIT = 14.0  # by simulation: about as rare as T2 beyond its limit
# Judgements; the false alarms they give are measured in the tests.
_MEMORY = 0.25  # weight of the newest batch in the drift
_MEAN_WEIGHT = 0.25  # batches the standard counts for, as the mean
_SCATTER_WEIGHT = 6.0  # degrees of freedom the palette's scatter counts for
_AXES = ("L*", "a*", "b*")
_WORDS = (("too dark", "too light"), ("too green", "too red"), ("too blue", "too yellow"))


@dataclass(frozen=True, slots=True, eq=False)
class ControlChart:
    """Batches in order of time. delta_e (n,): from the standard.

    t2, drift (n,): the two signals, to be held against T2_LIMIT and DRIFT_LIMIT. out: indices of the batches
    out of control.
    """

    names: tuple[str, ...]
    delta_e: FloatArray
    t2: FloatArray
    drift: FloatArray
    out: tuple[int, ...]
    words: str

    @property
    def of_limit(self) -> FloatArray:
        """(n,) the louder of the two signals, 1 at its limit, growing as the distance does."""
        return np.asarray(np.sqrt(np.maximum(self.t2 / T2_LIMIT, self.drift / DRIFT_LIMIT)), dtype=np.float64)


def control_chart(
    shades: Sequence[Shade], standard: Shade, *, names: Sequence[str] | None = None, cast_sd: float = CAST_SD
) -> ControlChart:
    """Chart batches, oldest first, against their standard.

    cast_sd: the scatter expected before these batches, in CIELAB units (`palette.cast_sd`); it
    counts for about six batches. Raises InputError for no batch, or names that do not match.
    """
    if not shades:
        raise InputError("There is no batch to chart yet; keep the shade of a batch first.")
    labels = tuple(names) if names is not None else tuple(f"batch {i + 1}" for i in range(len(shades)))
    if len(labels) != len(shades):
        raise InputError(f"There are {len(shades)} shades but {len(labels)} names; give one name for each.")
    cast_sd = number_between(cast_sd, name="The scatter from cast to cast", low=0.05, high=20)
    labs = np.array([shade.lab for shade in shades])
    t2, drift, drawn = _signals(labs - standard.lab, cast_sd)
    out = tuple(int(i) for i in np.flatnonzero((t2 > T2_LIMIT) | (drift > DRIFT_LIMIT)))
    off = np.asarray(delta_e_2000(labs, standard.lab), dtype=np.float64)
    return ControlChart(labels, off, t2, drift, out, _words(labels, out, t2, drawn))


def _signals(deviations: FloatArray, cast_sd: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """T2 (n,), drift (n,), and per batch the standardised vector (n, 3) behind the louder of the two."""
    from scipy.stats import chi2, f

    p = deviations.shape[1]
    weight, freedom, mean = _MEAN_WEIGHT, _SCATTER_WEIGHT, np.zeros(p)
    spread = (freedom - 2) * cast_sd**2 * np.eye(p)
    t2, drift, drawn = np.zeros(len(deviations)), np.zeros(len(deviations)), np.zeros_like(deviations)
    moving, since = np.zeros(p), 0
    for i, deviation in enumerate(deviations):
        left = freedom - p + 1
        scale = spread * (weight + 1) / (weight * left)
        values, axes = np.linalg.eigh(scale)  # the symmetric root treats L*, a*, b* alike
        standardised = axes @ ((axes.T @ (deviation - mean)) / np.sqrt(values))
        squared = float(standardised @ standardised)
        t2[i] = chi2.isf(max(f.sf(squared / p, p, left), 1e-300), p)
        standardised *= math.sqrt(t2[i] / max(squared, 1e-300))  # now normal, if the batch is a good one
        moving, since = _MEMORY * standardised + (1 - _MEMORY) * moving, since + 1
        variance = _MEMORY / (2 - _MEMORY) * (1 - (1 - _MEMORY) ** (2 * since))
        drift[i] = float(moving @ moving) / variance
        drawn[i] = standardised if t2[i] >= drift[i] else moving
        if t2[i] > T2_LIMIT or drift[i] > DRIFT_LIMIT:
            moving, since = np.zeros(p), 0
            continue  # what is out of control teaches nothing about control
        apart = deviation - mean
        spread = spread + weight / (weight + 1) * np.outer(apart, apart)
        mean = mean + apart / (weight + 1)
        weight, freedom = weight + 1, freedom + 1
    return t2, drift, drawn


def _words(names: tuple[str, ...], out: tuple[int, ...], t2: FloatArray, drawn: FloatArray) -> str:
    if not out:
        return f"All {len(names)} casts are within your own scatter." if len(names) > 1 else "One cast so far."
    first = out[0]
    axis = int(np.argmax(np.abs(drawn[first])))
    way = _WORDS[axis][int(drawn[first][axis] > 0)]
    kind = "far off at once" if t2[first] > T2_LIMIT else "the end of a drift"
    return (
        f"First out of control: {names[first]}, {kind}, mostly {way} ({_AXES[axis]}). "
        "Look for what changed before it: lot, water, mixing, light."
    )
