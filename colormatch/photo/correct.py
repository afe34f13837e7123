"""Fit the camera to what is known in the picture, and read colours off it with their uncertainty.

References (chart patches, a grey card, swatches) say what light is expected; the plain sheet says where
there is less of it. With a prior on the camera, generic or from an earlier chart, the most likely camera
(Levenberg-Marquardt, robust weights) and its Laplace covariance. Of a stiff and supple variants the one
with the least leave-one-out error is kept.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from .. import difference
from ..arrays import FloatArray
from ..difference import delta_e_2000
from .camera_model import (
    BLOCKS,
    N_PARAMETERS,
    N_PICTURE,
    PLACES,
    PRIOR_MEAN,
    TONE_BLOCKS,
    balanced_light,
    is_possible,
    light_expected,
    light_seen,
    light_to_lab,
    light_to_lab_slopes,
    prior_covariance,
    scene_light,
    sensor_curves,
    sensor_shapes,
)
from .sheet import NO_SHEET, Sheet
from .surfaces import Likeness, seen_like

_TONE_PLACES = np.concatenate([np.arange(N_PICTURE)[PLACES[name]] for name in TONE_BLOCKS])
_LIGHT = ("gain", "slope", "fall", "tint", "matrix", "sensor")
# What may be free, from supple to stiff; what is not stays at the prior mean.
CANDIDATES: dict[str, tuple[str, ...]] = {
    "sensor, tone curve and root polynomial": tuple(BLOCKS),
    "sensor and tone curve": _LIGHT + TONE_BLOCKS,
    "sensor": _LIGHT,
}
FEWEST_TO_CHOOSE = 8
_MISFIT = 0.25  # dE00 left between the two ends of a well-behaved camera
# dE00 that a chart usually fits to. One that fits worse shows a camera of another kind, which errs more between the
# patches than at them (from simulated pictures).
_USUAL_MISFIT = 0.125
# A sheet is never quite flat, nor quite evenly lit (relative sd 0.05), but of one colour (0.015), from memory.
_SHEET_AXES = np.array([[0, 1 / 0.05, 0], [1 / 0.015, -1 / 0.015, 0], [0, -1 / 0.015, 1 / 0.015]])
# What changes the level of the sheet from place to place (shadow, a camera's own local contrast) changes that of a
# piece more, which is darker or lighter than all around it (from simulated pictures).
_PIECE_PER_SHEET = 4.0
_STEP = 1e-5
_ALL = np.arange(N_PARAMETERS)
_PICTURE = _ALL[:N_PICTURE]
_TAIL = 8.0  # squared deviation from which a reference counts less, once there are others to tell it wrong
_FEWEST_TO_DOUBT = 3
_NO_TAIL = 1e9  # so far out that every deviation counts in full
# Heavy tails (Student's t): small departures are held back, large ones hardly. A picture has one light, or plainly two,
# so a small change of colour across it is more likely noise; its white balance is about right, or plainly wrong. The
# tails are choices, tried on simulated pictures. In every prior such a block is independent of all others.
_TAILS = {"tint": 2.0, "gain": 1.0}
_CROWD_SHARE = 0.12  # the crowd is more various than the pieces of one studio (from simulated castings)
_UNKNOWN_GAIN = 0.25  # log of exposure and white balance left to the camera, from memory
_KINSHIP = 15.0  # CIELAB distance over which swatches share what the camera sees wrongly
_KIN_SD = (0.5, 3.0)  # least and most of that, in CIELAB
_SWATCH_SD = 0.7  # dE00: a swatch's reflectance is inferred from its colour


@dataclass(frozen=True, eq=False)
class Observations:
    """Known colours in the picture: linear rgb (n, 3), place (n, 2), CIELAB (n, 3), reflectance (n, 31),
    sd (n,) in dE00 of what is known, whether each is a swatch (n,), whose reflectance is only inferred, and
    the covariance (n, 3, 3) of rgb."""

    rgb: FloatArray
    place: FloatArray
    lab: FloatArray
    reflectance: FloatArray
    sd: FloatArray
    swatch: FloatArray
    noise: FloatArray

    def __len__(self) -> int:
        return len(self.rgb)

    def only(self, which: NDArray[np.bool_]) -> Observations:
        """Those of a mask (n,)."""
        return Observations(**{f.name: getattr(self, f.name)[which] for f in fields(self)})


@dataclass(frozen=True, eq=False)
class Belief:
    """Mean (N,) and covariance (N, N) of the camera's parameters."""

    mean: FloatArray
    covariance: FloatArray


GENERIC = Belief(PRIOR_MEAN, prior_covariance())


@dataclass(frozen=True, eq=False)
class Correction:
    """A fitted camera. left_out: dE00 of each reference predicted from the others (n,); residual: known
    less fitted CIELAB (n, 3); kin: swatches' CIELAB and what was read off them less what is known."""

    method: str
    belief: Belief
    misfit: float
    left_out: FloatArray
    residual: FloatArray
    kin_lab: FloatArray
    kin_off: FloatArray
    kin_sd: FloatArray
    unevenness: float = 0.0  # relative sd of the level from place to place

    @property
    def reference_error(self) -> float:
        """Mean dE00 of each reference predicted from the others; nan with fewer than 8."""
        return float(self.left_out.mean()) if len(self.left_out) >= FEWEST_TO_CHOOSE else float("nan")

    @property
    def _between(self) -> float:
        """Sd in dE00 of the model itself, between the references."""
        if len(self.left_out) < FEWEST_TO_CHOOSE:
            return self.misfit
        return self.misfit * max(1.0, self.misfit / _USUAL_MISFIT)

    def predict(
        self, rgb: FloatArray, place: FloatArray, noise: FloatArray | None = None
    ) -> tuple[FloatArray, FloatArray]:
        """CIELAB (3,) and covariance (3, 3) of linear rgb (3,) at place (2,); noise: the covariance of rgb."""
        like, spread = self._read(rgb, place)
        if noise is not None:
            slopes = self._slopes(like, rgb, place)
            spread = spread + slopes @ noise @ slopes.T
        lab = like.lab
        unlike = _CROWD_SHARE * like.covariance
        if len(self.kin_lab):
            off, share = self._from_kin(lab)
            lab, unlike = lab - off, unlike * share
        own = np.linalg.inv(difference.slopes(lab, lab)[1]) * self._between
        level = self.unevenness * like.slopes.sum(axis=1)
        return lab, unlike + spread + own @ own.T + np.outer(level, level)

    def _slopes(self, like: Likeness, rgb: FloatArray, place: FloatArray) -> FloatArray:
        """(3, 3) derivatives of CIELAB in linear rgb."""
        step = np.maximum(0.01 * rgb, 1e-4)
        around = np.vstack([rgb, rgb + np.diag(step)])
        log = np.log(np.maximum(light_seen(self.belief.mean, around, np.repeat(place[None], 4, axis=0)), 2e-3))
        return np.asarray(like.slopes @ ((log[1:] - log[0]).T / step))

    def _read(self, rgb: FloatArray, place: FloatArray) -> tuple[Likeness, FloatArray]:
        mean = self.belief.mean
        light, slopes = _seen_with_slopes(mean, rgb[None], place[None])
        like = seen_like(light[0], sensor_curves(mean))
        change = np.concatenate([slopes[0], -_sensor_slopes(like.reflectance[None], np.eye(3)[None])[0]], axis=1)
        turn = like.slopes / np.maximum(light[0], 2e-3) @ change
        return like, turn @ self.belief.covariance @ turn.T

    def _from_kin(self, lab: FloatArray) -> tuple[FloatArray, float]:
        """What like swatches say the camera sees wrongly here (Gaussian-process regression), and the share
        of variance they leave."""

        def likeness(a: FloatArray, b: FloatArray) -> FloatArray:
            apart = ((a[:, None] - b) ** 2).sum(axis=-1)
            return np.asarray(common * np.exp(-apart / (2 * _KINSHIP**2)))

        common = float(np.clip((self.kin_off**2).mean() - (self.kin_sd**2).mean(), *np.square(_KIN_SD)))
        among = likeness(self.kin_lab, self.kin_lab) + np.diag(self.kin_sd**2)
        here = likeness(lab[None], self.kin_lab)[0]
        solved = np.linalg.solve(among, np.column_stack([self.kin_off, here]))
        return here @ solved[:, :3], float(np.clip(1 - here @ solved[:, 3] / common, 0.05, 1))


def choose(seen: Observations, prior: Belief = GENERIC, sheet: Sheet = NO_SHEET) -> Correction:
    """The most likely camera; with 8 references or more, of the variant with the least leave-one-out error."""
    if not len(seen):
        prior = _exposed_rightly(prior)
    if len(seen) < FEWEST_TO_CHOOSE:
        return replace(_Fit(seen, sheet, prior, tuple(BLOCKS), _MISFIT).solve(), method="prior and references")
    tried: list[Correction] = []
    for name, free in CANDIDATES.items():  # each starts where the one before ended
        start = tried[-1].belief.mean if tried else prior.mean
        tried.append(replace(_Fit(seen, sheet, prior, free, _MISFIT).solve(start), method=name))
    best = min(tried, key=lambda c: float(np.mean(np.minimum(c.left_out, 10.0))))
    if best.misfit > 1.3 * _MISFIT:  # the references fit worse than assumed: believe the prior more
        again = _Fit(seen, sheet, prior, CANDIDATES[best.method], best.misfit).solve(best.belief.mean)
        best = replace(again, method=best.method)
    return best


def _exposed_rightly(prior: Belief) -> Belief:
    """With nothing known in the frame, only the camera's own exposure and white balance are left."""
    covariance = prior.covariance.copy()
    gain = PLACES["gain"]
    covariance[gain, gain] = np.eye(3) * _UNKNOWN_GAIN**2
    return Belief(prior.mean, covariance)


def _seen_with_slopes(
    mean: FloatArray, rgb: FloatArray, place: FloatArray, free: NDArray[np.intp] = _PICTURE
) -> tuple[FloatArray, FloatArray]:
    """Light seen (n, 3) and its derivatives (n, 3, N_PICTURE); those not asked for are zero."""
    here = mean[:N_PICTURE]
    in_tone = np.isin(free, _TONE_PLACES)
    scene = scene_light(here + _STEP * _one_at_a_time(free[in_tone]), rgb)
    light = balanced_light(here, scene, place)
    slopes = np.zeros((len(rgb), 3, N_PICTURE))
    slopes[..., free[in_tone]] = np.moveaxis((light[1:] - light[0]) / _STEP, 0, -1)
    # The others leave the tone curve alone, so its costly half is not computed again for them.
    moved = balanced_light(here + _STEP * _one_at_a_time(free[~in_tone])[1:], scene[0], place)
    slopes[..., free[~in_tone]] = np.moveaxis((moved - light[0]) / _STEP, 0, -1)
    return light[0], slopes


def _one_at_a_time(free: NDArray[np.intp]) -> FloatArray:
    return np.vstack([np.zeros(N_PICTURE), np.eye(N_PICTURE)[free]])


def _sensor_slopes(reflectance: FloatArray, turn: FloatArray) -> FloatArray:
    """(n, 3, 36) derivatives of turn (n, 3, 3) @ expected light in the sensor's parameters."""
    shapes = reflectance @ sensor_shapes()
    return np.asarray(np.einsum("nk,nic->nikc", shapes, turn).reshape(len(shapes), 3, N_PARAMETERS - N_PICTURE))


def _cost(squared: FloatArray | float, tail: FloatArray | float) -> FloatArray:
    """Of a squared deviation: itself while small, hardly more beyond the tail."""
    return np.asarray(tail * np.log1p(squared / tail))


class _Fit:
    """One least-squares problem: the picture's end against the surface's end, the sheet, and the prior."""

    def __init__(self, seen: Observations, sheet: Sheet, prior: Belief, free: tuple[str, ...], misfit: float) -> None:
        self.seen, self.sheet, self.prior, self.misfit = seen, sheet, prior, misfit
        self.rgb = np.vstack([seen.rgb, sheet.rgb])
        self.place = np.vstack([seen.place, sheet.place])
        self.which = np.sort(np.concatenate([np.arange(N_PARAMETERS)[PLACES[name]] for name in free]))
        self.precision = np.linalg.inv(prior.covariance[np.ix_(self.which, self.which)])
        of_references = _TAIL if len(seen) >= _FEWEST_TO_DOUBT else _NO_TAIL
        self.tail = np.concatenate([np.full(len(seen), of_references), np.full(len(sheet.rgb), _TAIL)])
        self.heavy = [(np.isin(self.which, _ALL[PLACES[name]]), tail) for name, tail in _TAILS.items()]
        spread = np.sqrt(misfit**2 + seen.sd**2 + seen.swatch * _SWATCH_SD**2)
        # A patch of few steps of 8 bits is known less well than a bright one, and so counts less.
        expected = np.maximum(light_expected(prior.mean, seen.reflectance), 1e-3)
        relative = expected / np.maximum(seen.rgb, 1e-3)
        _, axes = difference.slopes(seen.lab, seen.lab)
        turn = axes @ light_to_lab_slopes(expected) * relative[:, None]
        total = spread[:, None, None] ** 2 * np.eye(3) + turn @ seen.noise @ np.swapaxes(turn, 1, 2)
        self.whiten = np.linalg.solve(np.linalg.cholesky(total), axes)

    def residual(self, mean: FloatArray, slopes: bool) -> tuple[FloatArray, FloatArray]:
        """Whitened differences (n, 3) of references and sheet cells, and their slopes (n, 3, p)."""
        n = len(self.seen)
        expected = light_expected(mean, self.seen.reflectance)
        if slopes:
            light, change = _seen_with_slopes(mean, self.rgb, self.place, self.which[self.which < N_PICTURE])
        else:
            light, change = light_seen(mean, self.rgb, self.place), np.zeros((len(self.rgb), 3, 0))
        r = np.einsum("nij,nj->ni", self.whiten, light_to_lab(light[:n]) - light_to_lab(expected))
        safe = np.maximum(light[n:], 1e-4)
        log = np.log(safe)
        even = (log - log.mean(axis=0)) @ _SHEET_AXES.T if len(log) else log
        if not slopes:
            return np.concatenate([r, even]), change
        J = np.zeros((len(self.rgb), 3, N_PARAMETERS))
        J[:n, :, :N_PICTURE] = self.whiten @ light_to_lab_slopes(light[:n]) @ change[:n]
        J[:n, :, N_PICTURE:] = -_sensor_slopes(self.seen.reflectance, self.whiten @ light_to_lab_slopes(expected))
        relative = change[n:] / safe[..., None]
        if len(log):
            J[n:, :, :N_PICTURE] = _SHEET_AXES @ (relative - relative.mean(axis=0))
        return np.concatenate([r, even]), J[..., self.which]

    def cost(self, mean: FloatArray) -> float:
        r, _ = self.residual(mean, slopes=False)
        off = (mean - self.prior.mean)[self.which]
        unlikely = off @ self.precision @ off
        for block, tail in self.heavy:
            squared = self.squared(off, block)
            unlikely += float(_cost(squared, tail)) - squared
        return float(_cost((r * r).sum(axis=1), self.tail).sum() + unlikely)

    def squared(self, off: FloatArray, block: NDArray[np.bool_]) -> float:
        """Squared deviation of a block of parameters in the prior's sds."""
        return float(off[block] @ self.precision[np.ix_(block, block)] @ off[block])

    def normal(self, mean: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
        r, J = self.residual(mean, slopes=True)
        weight = 1 / (1 + (r * r).sum(axis=1) / self.tail)
        flat = (J * np.sqrt(weight)[:, None, None]).reshape(-1, J.shape[-1])
        off = (mean - self.prior.mean)[self.which]
        precision = self.precision.copy()
        for block, tail in self.heavy:
            precision[np.ix_(block, block)] /= 1 + self.squared(off, block) / tail
        # einsum, not @: threads woken for a matrix this small cost more than they do
        matrix = np.einsum("ki,kj->ij", flat, flat) + precision
        gradient = np.einsum("ki,k->i", flat, (r * np.sqrt(weight)[:, None]).ravel())
        return matrix, gradient + precision @ off, r, J, weight

    def solve(self, start: FloatArray | None = None) -> Correction:
        mean, damping = self.prior.mean.copy(), 1e-2
        if start is not None:
            mean[self.which] = start[self.which]
        elif len(self.seen):
            mean[PLACES["gain"]] = self.first_gain(mean)
        now = self.cost(mean)
        for _ in range(25):
            matrix, gradient, *_ = self.normal(mean)
            gained = 0.0
            for _ in range(6):
                trial = mean.copy()
                trial[self.which] -= np.linalg.solve(matrix + damping * np.diag(np.diag(matrix)), gradient)
                after = self.cost(trial) if is_possible(trial) else np.inf
                if after < now:
                    gained, mean, now, damping = now - after, trial, after, max(damping / 6, 1e-7)
                    break
                damping *= 6
            if gained < 1e-2 * (1 + now):
                break
        return self.report(mean)

    def first_gain(self, mean: FloatArray) -> FloatArray:
        """Log gain by which the light seen becomes the light expected, for the middle reference."""
        seen = np.maximum(light_seen(mean, self.seen.rgb, self.seen.place), 1e-3)
        expected = np.maximum(light_expected(mean, self.seen.reflectance), 1e-3)
        return np.asarray(mean[PLACES["gain"]] + np.median(np.log(expected / seen)))

    def report(self, mean: FloatArray) -> Correction:
        matrix, _, r, J, weight = self.normal(mean)
        n, seen = len(self.seen), self.seen
        inverse = np.linalg.inv(matrix)
        r, J, weight = r[:n], J[:n], weight[:n]
        hat = weight[:, None, None] * (J @ inverse @ np.swapaxes(J, 1, 2))
        out = np.linalg.solve(np.eye(3) - hat, r[..., None])[..., 0]
        back: FloatArray = np.linalg.solve(self.whiten, np.stack([out, r], axis=-1)).astype(np.float64)
        left_out = delta_e_2000(seen.lab + back[..., 0], seen.lab)
        # Scatter of the references: residual times left-out residual is free of the parameters spent.
        scale = float(np.sqrt(max((weight[:, None] * r * out).mean(), 0.0))) if n >= FEWEST_TO_CHOOSE else 1.0
        covariance = np.zeros((N_PARAMETERS, N_PARAMETERS))
        covariance[np.ix_(self.which, self.which)] = inverse
        found = Correction(
            "",
            Belief(mean, covariance),
            self.misfit * scale,
            left_out,
            back[..., 1],
            np.zeros((0, 3)),
            np.zeros((0, 3)),
            np.zeros(0),
            _PIECE_PER_SHEET * self.sheet.roughness,
        )
        return self.with_kin(found)

    def with_kin(self, found: Correction) -> Correction:
        swatches = np.flatnonzero(self.seen.swatch)
        if not len(swatches):
            return found
        read = np.array([found.predict(self.seen.rgb[i], self.seen.place[i])[0] for i in swatches])
        known = self.seen.lab[swatches]
        return replace(found, kin_lab=known, kin_off=read - known, kin_sd=np.hypot(self.seen.sd[swatches], 0.2))
