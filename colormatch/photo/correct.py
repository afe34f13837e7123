"""A fitted camera: reads colours off a picture, with their uncertainty."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..arrays import FloatArray
from ..difference import metric
from .camera_model import (
    PRIOR_MEAN,
    expected_slopes,
    light_seen,
    light_seen_with_slopes,
    prior_covariance,
    sensor_curves,
)
from .population import Reading, Surface, View

FEWEST_TO_CHOOSE = 8  # references: fewer cannot tell the camera from its light (8 parameters of light and balance)
# dE00 that a chart usually fits to. One that fits worse shows a camera of another kind, which errs more between the
# patches than at them (from simulated pictures).
_USUAL_MISFIT = 0.125
# The population is more various than the cements of one studio (chosen with `_WITH_CHART` of fit.py). What may be
# anything is as various (seen with a chart on frames 6600 to 6635, of jars without a name, and 6700 to 6735, of the
# surfaces of CIE 224:2017).
_POPULATION_SHARE = 0.2
_KINSHIP = 15.0  # CIELAB distance over which swatches share what the camera sees wrongly; from simulated castings
_KIN_SD = (0.5, 3.0)  # least and most of that, in CIELAB


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


@dataclass(frozen=True, eq=False)
class CameraEstimate:
    """Mean (N,) and covariance (N, N) of the camera's parameters."""

    mean: FloatArray
    covariance: FloatArray


GENERIC = CameraEstimate(PRIOR_MEAN, prior_covariance())


@dataclass(frozen=True, eq=False)
class Correction:
    """A fitted camera. left_out: dE00 of each reference predicted from the others (n,); residual: known
    less fitted CIELAB (n, 3); kin: swatches' CIELAB and what was read off them less what is known."""

    method: str
    estimate: CameraEstimate
    misfit: float
    left_out: FloatArray
    residual: FloatArray
    kin_lab: FloatArray
    kin_off: FloatArray
    kin_sd: FloatArray
    unevenness: float = 0.0  # relative sd of the level from place to place
    calibration: float = 1.0  # times which the variance comes out in pictures of such cameras

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

    @cached_property
    def _view(self) -> View:
        return View.through(sensor_curves(self.estimate.mean))

    def light(self, rgb: FloatArray, place: FloatArray) -> FloatArray:
        """Light (n, 3), relative to a white's, of linear rgb (n, 3) at one place (2,)."""
        return light_seen(self.estimate.mean, rgb, np.repeat(place[None], len(rgb), axis=0))

    def predict(
        self, rgb: FloatArray, place: FloatArray, noise: FloatArray | None = None, surface: Surface = "cement"
    ) -> tuple[FloatArray, FloatArray]:
        """CIELAB (3,) and covariance (3, 3) of linear rgb (3,) at place (2,).

        noise: the covariance of rgb. surface: as in `measure_photo`.
        """
        light, like, spread = self._read(rgb, place, surface)
        lab = like.lab
        share = 1.0 if surface == "anything" else self.calibration * _POPULATION_SHARE
        unlike = share * like.covariance
        if len(self.kin_lab):
            off, left = self._from_kin(lab)
            lab, unlike = lab - off, unlike * left
        own = np.linalg.inv(metric(lab)) * self._between**2
        level = self.unevenness * like.slopes @ light
        total = unlike + self.calibration * (spread + own) + np.outer(level, level)
        if noise is not None:
            slopes = self._slopes(like, rgb, place)
            total = total + slopes @ noise @ slopes.T
        return lab, total

    def _slopes(self, like: Reading, rgb: FloatArray, place: FloatArray) -> FloatArray:
        """(3, 3) derivatives of CIELAB in linear rgb."""
        step = np.maximum(0.01 * rgb, 1e-4)
        around = np.vstack([rgb, rgb + np.diag(step)])
        light = self.light(around, place)
        return np.asarray(like.slopes @ ((light[1:] - light[0]).T / step))

    def _read(self, rgb: FloatArray, place: FloatArray, surface: Surface) -> tuple[FloatArray, Reading, FloatArray]:
        mean = self.estimate.mean
        light, slopes = light_seen_with_slopes(mean, rgb[None], place[None])
        like = self._view.read(light[0], surface)
        change = np.concatenate([slopes[0], -expected_slopes(like.reflectance[None], np.eye(3)[None])[0]], axis=1)
        turn = like.slopes @ change
        return light[0], like, turn @ self.estimate.covariance @ turn.T

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
