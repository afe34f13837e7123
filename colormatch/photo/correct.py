"""Fit the camera's colour chain to what is known in the picture; say how far it can be trusted.

References (chart patches, a grey card, swatches) are observations of `camera_model` with a prior on
its parameters: the generic one, or what an earlier chart taught about this camera. Maximum a
posteriori by Levenberg-Marquardt, robust weights, Laplace covariance.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..arrays import FloatArray
from ..difference import delta_e_2000
from .camera_model import BLOCKS, N_PARAMETERS, PLACES, PRIOR_SD, camera_to_lab, tone_is_monotone

# What may be free, from stiff to supple; the leave-one-out error chooses.
CANDIDATES: dict[str, tuple[str, ...]] = {
    "linear": ("gain", "slope", "fall", "tint", "matrix"),
    "tone curve + linear": ("gain", "slope", "fall", "tint", "matrix", "saturation", "tone", "glare"),
    "tone curve + root polynomial": tuple(BLOCKS),
}
_STEP = 1e-5
_TAIL = 5.0  # degrees of freedom of the robust loss


@dataclass(frozen=True, eq=False)
class Observations:
    """Known colours in the picture: linear rgb (n, 3), place (n, 2), lab (n, 3), their sd (n,)."""

    rgb: FloatArray
    place: FloatArray
    lab: FloatArray
    sd: FloatArray

    def __len__(self) -> int:
        return len(self.rgb)


@dataclass(frozen=True, eq=False)
class Belief:
    """Mean (N,) and covariance (N, N) of the camera's parameters."""

    mean: FloatArray
    covariance: FloatArray


GENERIC = Belief(np.zeros(N_PARAMETERS), np.diag(PRIOR_SD**2))


@dataclass(frozen=True, eq=False)
class Correction:
    """A fitted chain. left_out: dE00 of each reference predicted from the others."""

    method: str
    belief: Belief
    misfit: float
    left_out: FloatArray
    residual: FloatArray
    weights: FloatArray

    @property
    def reference_error(self) -> float:
        """Mean dE00 of each reference predicted from the others; nan with fewer than 8."""
        return float(self.left_out.mean()) if len(self.left_out) >= 8 else float("nan")

    def predict(self, rgb: FloatArray, place: FloatArray) -> tuple[FloatArray, FloatArray]:
        """CIELAB (n, 3) and covariance (n, 3, 3) of linear rgb (n, 3) at place (n, 2)."""
        lab, slopes = _with_slopes(self.belief.mean, rgb, place)
        spread = np.einsum("nip,pq,njq->nij", slopes, self.belief.covariance, slopes)
        own = np.linalg.inv(_whitener(lab)) * self.misfit
        return lab, spread + own @ np.swapaxes(own, -1, -2)


def _whitener(lab: FloatArray) -> FloatArray:
    """(n, 3, 3) matrices that turn a small CIELAB difference into about its dE00, without rotation."""
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    safe = np.maximum(chroma, 1e-9)
    along = np.stack([lab[:, 1] / safe, lab[:, 2] / safe], axis=1)
    along[chroma < 1e-6] = (1.0, 0.0)
    off = (lab[:, 0] - 50) ** 2
    out = np.zeros((len(lab), 3, 3))
    out[:, 0, 0] = 1 / (1 + 0.015 * off / np.sqrt(20 + off))
    out[:, 1, 1:] = along / (1 + 0.045 * chroma)[:, None]
    out[:, 2, 1], out[:, 2, 2] = -along[:, 1], along[:, 0]
    out[:, 2, 1:] /= (1 + 0.015 * chroma)[:, None]
    return out


def _with_slopes(mean: FloatArray, rgb: FloatArray, place: FloatArray) -> tuple[FloatArray, FloatArray]:
    points = np.vstack([mean, mean + _STEP * np.eye(N_PARAMETERS)])
    lab = camera_to_lab(points, rgb, place)
    return lab[0], np.moveaxis((lab[1:] - lab[0]) / _STEP, 0, -1)


def fit(seen: Observations, prior: Belief, free: tuple[str, ...], misfit: float) -> Correction:
    """MAP with the named blocks free and the others held at the prior mean."""
    which = np.concatenate([np.arange(N_PARAMETERS)[PLACES[name]] for name in free])
    which.sort()
    precision = np.linalg.inv(prior.covariance[np.ix_(which, which)])
    whiten = _whitener(seen.lab) / np.hypot(misfit, seen.sd)[:, None, None]
    mean = prior.mean.copy()

    def residual(at: FloatArray) -> FloatArray:
        return np.einsum("nij,nj->ni", whiten, camera_to_lab(at, seen.rgb, seen.place) - seen.lab)

    def cost(at: FloatArray) -> float:
        r2 = np.sum(residual(at) ** 2, axis=-1)
        d = at[which] - prior.mean[which]
        return float((_TAIL + 3) * np.log1p(r2 / _TAIL).sum() + d @ precision @ d)

    damping, now = 1e-2, cost(mean)
    for _ in range(30):
        lab, slopes = _with_slopes(mean, seen.rgb, seen.place)
        r = np.einsum("nij,nj->ni", whiten, lab - seen.lab)
        J = np.einsum("nij,njp->nip", whiten, slopes[..., which])
        w = (_TAIL + 3) / (_TAIL + np.sum(r * r, axis=-1))
        normal = np.einsum("n,nip,niq->pq", w, J, J) + precision
        gradient = np.einsum("n,nip,ni->p", w, J, r) + precision @ (mean[which] - prior.mean[which])
        moved = False
        for _ in range(6):
            step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), gradient)
            trial = mean.copy()
            trial[which] -= step
            after = cost(trial)
            if after < now and tone_is_monotone(trial):
                gain, mean, now, moved = now - after, trial, after, True
                damping = max(damping / 5, 1e-7)
                break
            damping *= 5
        if not moved or gain < 1e-4 * (1 + now):
            break
    lab, slopes = _with_slopes(mean, seen.rgb, seen.place)
    r = np.einsum("nij,nj->ni", whiten, lab - seen.lab)
    J = np.einsum("nij,njp->nip", whiten, slopes[..., which])
    w = np.minimum((_TAIL + 3) / (_TAIL + np.sum(r * r, axis=-1)), 1.0)
    inverse = np.linalg.inv(np.einsum("n,nip,niq->pq", w, J, J) + precision)
    hat = w[:, None, None] * np.einsum("nip,pq,njq->nij", J, inverse, J)
    out = np.linalg.solve(np.eye(3) - hat, r[..., None])[..., 0]
    back = np.linalg.solve(whiten, out[..., None])[..., 0]
    left_out = delta_e_2000(seen.lab + back, seen.lab)
    covariance = np.zeros_like(prior.covariance)
    covariance[np.ix_(which, which)] = inverse
    fixed = np.setdiff1d(np.arange(N_PARAMETERS), which)
    covariance[np.ix_(fixed, fixed)] = 0
    return Correction("", Belief(mean, covariance), misfit, left_out, delta_e_2000(lab, seen.lab), w)


def choose(seen: Observations, prior: Belief = GENERIC, misfit: float = 1.0) -> Correction:
    """Fit every candidate that the references can carry; keep the least leave-one-out error."""
    if len(seen) < 8:
        return replace(fit(seen, prior, tuple(BLOCKS), misfit), method="prior")
    tried = []
    for name, free in CANDIDATES.items():
        tried.append(replace(fit(seen, prior, free, misfit), method=name))
    return min(tried, key=lambda c: float(np.mean(np.minimum(c.left_out, 10))))
