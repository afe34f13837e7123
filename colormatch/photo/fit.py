"""Fit the camera to what is known in the picture.

References (chart patches, a grey card, swatches) say what light is expected; the background says where
there is less of it. With a prior on the camera, generic or from an earlier chart, the most likely camera
(Levenberg-Marquardt, robust weights) and its Laplace covariance. Of a stiff and supple variants the one
with the least leave-one-out error is kept.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from ..difference import delta_e_2000, slopes
from .background import NO_BACKGROUND, Background
from .camera_model import (
    BLOCKS,
    N_PARAMETERS,
    N_PICTURE,
    PLACES,
    TONE_BLOCKS,
    expected_slopes,
    is_possible,
    light_expected,
    light_seen,
    light_seen_with_slopes,
    light_to_lab,
    light_to_lab_slopes,
    neutral_seen,
)
from .correct import FEWEST_TO_CHOOSE, GENERIC, CameraEstimate, Correction, Observations

_LIGHT = ("gain", "slope", "fall", "tint", "matrix", "sensor")
# What may be free, from supple to stiff; what is not stays at the prior mean. The stiff one finds the light where a
# supple one takes a second lamp for a tone curve.
CANDIDATES: dict[str, tuple[str, ...]] = {
    "sensor, tone curve and root polynomial": tuple(BLOCKS),
    "sensor and tone curve": _LIGHT + TONE_BLOCKS,
    "sensor": _LIGHT,
}
_MISFIT = 0.25  # dE00 left between the two ends of a well-behaved camera
# A background is never quite flat, nor quite evenly lit (relative sd 0.05), but of one colour (0.015), from memory.
_BACKGROUND_AXES = np.array([[0, 1 / 0.05, 0], [1 / 0.015, -1 / 0.015, 0], [0, -1 / 0.015, 1 / 0.015]])
# What changes the level of the background from place to place (shadow, a camera's own local contrast) changes that of a
# piece more, which is darker or lighter than all around it (from simulated pictures).
_PIECE_PER_BACKGROUND = 4.0
_ALL = np.arange(N_PARAMETERS)
_TAIL = 8.0  # squared deviation from which a reference counts less, once there are others to tell it wrong
_FEWEST_FOR_OUTLIERS = 3  # of two that differ, neither is the wrong one
_NO_TAIL = 1e9  # so far out that every deviation counts in full
# Heavy tails (Student's t): small departures are held back, large ones hardly. A picture has one light, or plainly two,
# so a small change of colour across it is more likely noise; its white balance is about right, or plainly wrong. The
# tails are choices, tried on simulated pictures. In every prior such a block is independent of all others.
_TAILS = {"tint": 2.0, "gain": 1.0}
_UNKNOWN_GAIN = 0.25  # log of exposure and white balance left to the camera, from memory
_SWATCH_SD = 0.7  # dE00: a swatch's reflectance is inferred from its colour

# Chosen on simulated frames of 3 cameras under 6 lamps (2000 to 2035, 3000 to 3035 and 4000 to 4053 of the study; with
# a chart on 6000 to 6143), so that the squared errors are about as large as stated for each camera by itself; the last
# steps, of a tenth at most, in view of tests/benchmarks/test_photo_accuracy.py and test_photo_outside.py. Their pieces
# are of pigments like the starters: how much more others err is not seen in the frame, but may be said (`Surface`).
# With a card alone, nothing shows which camera it is: there the bands of a usual one are too wide, and those of one
# whose curves overlap too narrow. With a chart they grow with how far the sensor's curves are from those of sRGB; with
# an earlier one also with the cast, which the matrix of such a sensor makes much of.
_WITH_CHART, _CAMERA_UNKNOWN = 0.28, 0.29
# What swatches say goes beyond the camera: beside a chart the errors of their own shades are left, and by themselves
# they tell more than a card (chosen on the same frames).
_WITH_SWATCHES, _SWATCHES_ALONE, _FEWEST_SWATCHES = 0.48, 0.24, 3
_PER_DEPARTURE, _LEAST, _USUAL_CAST = 2.2, 0.15, 0.4
# A chart that fits worse than usual, or a background less even, shows a camera of another kind: there the bands grow
# with those (chosen on 144 of those frames and on four conditions of tests/benchmarks/test_photo_outside.py).
_PLAIN_MISFIT, _PLAIN_UNEVENNESS, _MOST_BY_MISFIT = 0.15, 0.01, 6.0  # dE00, relative sd, and times


def choose(seen: Observations, prior: CameraEstimate = GENERIC, background: Background = NO_BACKGROUND) -> Correction:
    """The most likely camera; with 8 references or more, of the variant with the least leave-one-out error."""
    found = _most_likely(seen, prior, background)
    return replace(found, calibration=_calibration(found, prior, seen.swatch))


def _most_likely(seen: Observations, prior: CameraEstimate, background: Background) -> Correction:
    if not len(seen):
        prior = _exposed_rightly(prior)
    if len(seen) < FEWEST_TO_CHOOSE:
        return replace(_Fit(seen, background, prior, tuple(BLOCKS)).solve(), method="prior and references")
    tried: list[Correction] = []
    for name, free in CANDIDATES.items():  # each starts where the one before ended
        start = tried[-1].estimate.mean if tried else prior.mean
        tried.append(replace(_Fit(seen, background, prior, free).solve(start), method=name))
    best = min(tried, key=lambda c: float(np.mean(np.minimum(c.left_out, 10.0))))
    if best.misfit > 1.3 * _MISFIT:  # the references fit worse than assumed: the prior counts for more
        again = _Fit(seen, background, prior, CANDIDATES[best.method], best.misfit).solve(best.estimate.mean)
        best = replace(again, method=best.method)
    return best


def _calibration(found: Correction, prior: CameraEstimate, swatch: FloatArray) -> float:
    """How much of the variance that the fit leaves shows in pictures, by what the frame and an earlier chart tell."""
    swatches = int(swatch.sum())
    if len(found.left_out) >= FEWEST_TO_CHOOSE:
        unusual = max(found.misfit / _PLAIN_MISFIT, found.unevenness / _PLAIN_UNEVENNESS, 1.0)
        usual = _WITH_SWATCHES if 0 < swatches < len(swatch) else _WITH_CHART
        return usual * (1 + _unlike_srgb(found.estimate)) * min(unusual**2, _MOST_BY_MISFIT)
    unlike_srgb = _unlike_srgb(prior)
    if not unlike_srgb:
        return _SWATCHES_ALONE if swatches >= _FEWEST_SWATCHES else _CAMERA_UNKNOWN
    neutral = neutral_seen(found.estimate.mean)[0]
    cast = float(np.log(neutral.max() / neutral.min()))
    return max(_PER_DEPARTURE * unlike_srgb, _LEAST) * (1 + (cast / _USUAL_CAST) ** 2)


def _unlike_srgb(camera: CameraEstimate) -> float:
    """How far the sensor's curves are from those of sRGB: mean square, in the sds of a camera nothing is known of."""
    return float(np.mean(camera.mean[PLACES["sensor"]] ** 2)) / BLOCKS["sensor"][2] ** 2


def _exposed_rightly(prior: CameraEstimate) -> CameraEstimate:
    """With nothing known in the frame, only the camera's own exposure and white balance are left."""
    covariance = prior.covariance.copy()
    gain = PLACES["gain"]
    covariance[gain, gain] = np.eye(3) * _UNKNOWN_GAIN**2
    return CameraEstimate(prior.mean, covariance)


def _cost(squared: FloatArray | float, tail: FloatArray | float) -> FloatArray:
    """Of a squared deviation: itself while small, hardly more beyond the tail."""
    return np.asarray(tail * np.log1p(squared / tail))


@dataclass(frozen=True, eq=False)
class _Normal:
    """The problem at one camera: cost, normal matrix (p, p) and gradient (p,), whitened residual (n, 3), its slopes
    (n, 3, p) and the weights (n,) of robust fitting."""

    cost: float
    matrix: FloatArray
    gradient: FloatArray
    residual: FloatArray
    slopes: FloatArray
    weight: FloatArray


class _Fit:
    """One least-squares problem: the picture's end against the surface's end, the background, and the prior."""

    def __init__(
        self,
        seen: Observations,
        background: Background,
        prior: CameraEstimate,
        free: tuple[str, ...],
        misfit: float = _MISFIT,
    ) -> None:
        self.seen, self.background, self.prior, self.misfit = seen, background, prior, misfit
        self.rgb = np.vstack([seen.rgb, background.rgb])
        self.place = np.vstack([seen.place, background.place])
        self.which = np.sort(np.concatenate([np.arange(N_PARAMETERS)[PLACES[name]] for name in free]))
        self.precision = np.linalg.inv(prior.covariance[np.ix_(self.which, self.which)])
        of_references = _TAIL if len(seen) >= _FEWEST_FOR_OUTLIERS else _NO_TAIL
        self.tail = np.concatenate([np.full(len(seen), of_references), np.full(len(background.rgb), _TAIL)])
        self.heavy = [(np.isin(self.which, _ALL[PLACES[name]]), tail) for name, tail in _TAILS.items()]
        spread = np.sqrt(misfit**2 + seen.sd**2 + seen.swatch * _SWATCH_SD**2)
        # A patch of few steps of 8 bits is known less well than a bright one, and so counts less.
        expected = np.maximum(light_expected(prior.mean, seen.reflectance), 1e-3)
        relative = expected / np.maximum(seen.rgb, 1e-3)
        axes = slopes(seen.lab, seen.lab)[1]
        turn = axes @ light_to_lab_slopes(expected) * relative[:, None]
        total = spread[:, None, None] ** 2 * np.eye(3) + turn @ seen.noise @ np.swapaxes(turn, 1, 2)
        self.whiten = np.linalg.solve(np.linalg.cholesky(total), axes)

    def residual(self, mean: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Whitened differences (n, 3) of references and background cells, and their slopes (n, 3, p)."""
        n = len(self.seen)
        expected = light_expected(mean, self.seen.reflectance)
        light, change = light_seen_with_slopes(mean, self.rgb, self.place)
        r = np.einsum("nij,nj->ni", self.whiten, light_to_lab(light[:n]) - light_to_lab(expected))
        safe = np.maximum(light[n:], 1e-4)
        log = np.log(safe)
        even = (log - log.mean(axis=0)) @ _BACKGROUND_AXES.T if len(log) else log
        J = np.zeros((len(self.rgb), 3, N_PARAMETERS))
        J[:n, :, :N_PICTURE] = self.whiten @ light_to_lab_slopes(light[:n]) @ change[:n]
        J[:n, :, N_PICTURE:] = -expected_slopes(self.seen.reflectance, self.whiten @ light_to_lab_slopes(expected))
        relative = change[n:] / safe[..., None]
        if len(log):
            J[n:, :, :N_PICTURE] = _BACKGROUND_AXES @ (relative - relative.mean(axis=0))
        return np.concatenate([r, even]), J[..., self.which]

    def squared(self, off: FloatArray, block: NDArray[np.bool_]) -> float:
        """Squared deviation of a block of parameters in the prior's sds."""
        return float(off[block] @ self.precision[np.ix_(block, block)] @ off[block])

    def normal(self, mean: FloatArray) -> _Normal:
        r, J = self.residual(mean)
        squares = (r * r).sum(axis=1)
        weight = 1 / (1 + squares / self.tail)
        flat = (J * np.sqrt(weight)[:, None, None]).reshape(-1, J.shape[-1])
        off = (mean - self.prior.mean)[self.which]
        cost = float(_cost(squares, self.tail).sum() + off @ self.precision @ off)
        precision = self.precision.copy()
        for block, tail in self.heavy:
            squared = self.squared(off, block)
            cost += float(_cost(squared, tail)) - squared
            precision[np.ix_(block, block)] /= 1 + squared / tail
        # einsum, not @: threads woken for a matrix this small cost more than they do
        matrix = np.einsum("ki,kj->ij", flat, flat) + precision
        gradient = np.einsum("ki,k->i", flat, (r * np.sqrt(weight)[:, None]).ravel()) + precision @ off
        return _Normal(cost, matrix, gradient, r, J, weight)

    def solve(self, start: FloatArray | None = None) -> Correction:
        mean, damping = self.prior.mean.copy(), 1e-3
        if start is not None:
            mean[self.which] = start[self.which]
        elif len(self.seen):
            mean[PLACES["gain"]] = self.first_gain(mean)
        now = self.normal(mean)
        for _ in range(25):
            gained = 0.0
            for _ in range(6):
                trial = mean.copy()
                step = now.matrix + damping * np.diag(np.diag(now.matrix))
                trial[self.which] -= np.linalg.solve(step, now.gradient)
                # With slopes at once: hardly any trial is refused.
                after = self.normal(trial) if is_possible(trial) else None
                if after is not None and after.cost < now.cost:
                    gained, mean, now, damping = now.cost - after.cost, trial, after, max(damping / 6, 1e-7)
                    break
                damping *= 6
            if gained < 1e-2 * (1 + now.cost + gained):
                break
        return self.report(mean, now)

    def first_gain(self, mean: FloatArray) -> FloatArray:
        """Log gain by which the light seen becomes the light expected, for the middle reference."""
        seen = np.maximum(light_seen(mean, self.seen.rgb, self.seen.place), 1e-3)
        expected = np.maximum(light_expected(mean, self.seen.reflectance), 1e-3)
        return np.asarray(mean[PLACES["gain"]] + np.median(np.log(expected / seen)))

    def report(self, mean: FloatArray, found: _Normal) -> Correction:
        n, seen = len(self.seen), self.seen
        inverse = np.linalg.inv(found.matrix)
        r, J, weight = found.residual[:n], found.slopes[:n], found.weight[:n]
        hat = weight[:, None, None] * (J @ inverse @ np.swapaxes(J, 1, 2))
        out = np.linalg.solve(np.eye(3) - hat, r[..., None])[..., 0]
        back: FloatArray = np.linalg.solve(self.whiten, np.stack([out, r], axis=-1)).astype(np.float64)
        left_out = delta_e_2000(seen.lab + back[..., 0], seen.lab)
        # Scatter of the references: residual times left-out residual is free of the parameters spent.
        scale = float(np.sqrt(max((weight[:, None] * r * out).mean(), 0.0))) if n >= FEWEST_TO_CHOOSE else 1.0
        covariance = np.zeros((N_PARAMETERS, N_PARAMETERS))
        covariance[np.ix_(self.which, self.which)] = inverse
        correction = Correction(
            method="",
            estimate=CameraEstimate(mean, covariance),
            misfit=self.misfit * scale,
            left_out=left_out,
            residual=back[..., 1],
            kin_lab=np.zeros((0, 3)),
            kin_off=np.zeros((0, 3)),
            kin_sd=np.zeros(0),
            unevenness=_PIECE_PER_BACKGROUND * self.background.roughness,
        )
        return self.with_kin(correction)

    def with_kin(self, found: Correction) -> Correction:
        swatches = np.flatnonzero(self.seen.swatch)
        if not len(swatches):
            return found
        read = np.array([found.predict(self.seen.rgb[i], self.seen.place[i])[0] for i in swatches])
        known = self.seen.lab[swatches]
        return replace(found, kin_lab=known, kin_off=read - known, kin_sd=np.hypot(self.seen.sd[swatches], 0.2))
