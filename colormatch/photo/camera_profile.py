"""What an earlier chart taught about a camera: its tone curve, saturation and colour mixing.

Kept by EXIF model (and best by lamp), it stands in for the chart on a day when only a grey card is in the frame. The
light of that day (exposure, white balance, slope) is not part of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..arrays import FloatArray, finite_array, read_only
from ..errors import PhotoError
from .camera_model import CAMERA_BLOCKS, PLACES
from .correct import GENERIC, CameraEstimate, Correction

_WHICH = np.concatenate([np.arange(p.stop)[p] for p in (PLACES[name] for name in CAMERA_BLOCKS)])
# How much a camera's parameters move from one picture to another (sd), chosen so that the stated bands of simulated
# pictures hold under the chart's own lamp (tests/benchmarks/test_photo_accuracy.py).
_DRIFT = {
    "saturation": 0.01,
    "bend": 0.01,
    "tone": 0.01,
    "channel": 0.005,
    "glare": 0.001,
    "root": 0.01,
    "matrix": 0.05,
    "sensor": 0.0015,
}
# A chart may have stood under another lamp than today's piece, so its curves are carried over in part. Under
# simulated lamps: the same lamp gives 1.3 to 1.4 dE00 either way, another lamp 2.8 instead of 3.3.
_CARRIED = 0.75
_DRIFT_VARIANCE = np.concatenate(
    [np.full(PLACES[name].stop - PLACES[name].start, _DRIFT[name] ** 2) for name in CAMERA_BLOCKS]
)
_SHARE = np.where(PLACES["sensor"].start <= _WHICH, _CARRIED, 1.0)
_FORMAT = 2  # 1 had no matrix apart from the curves


@dataclass(frozen=True, eq=False)
class CameraProfile:
    """A camera's own colour handling, learned from one or more pictures with a chart.

    model: EXIF model. mean (n,), covariance (n, n): of its parameters. charts: how many pictures.
    learned_on: date of the latest, as the camera wrote it. reference_error: dE00 of those charts.
    """

    model: str
    mean: FloatArray
    covariance: FloatArray
    charts: int = 1
    learned_on: str = ""
    reference_error: float = 0.0

    def as_prior(self) -> CameraEstimate:
        """The estimate to start from in a new picture by this camera."""
        mean, covariance = GENERIC.mean.copy(), GENERIC.covariance.copy()
        mean[_WHICH] += (self.mean - mean[_WHICH]) * _SHARE
        # One chart knows one lamp; several share the drift between them.
        drift = np.diag(_DRIFT_VARIANCE * (1 + 1 / self.charts))
        covariance[np.ix_(_WHICH, _WHICH)] = self.covariance + drift
        return CameraEstimate(mean, covariance)

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and words, for the library."""
        return {
            "format": _FORMAT,
            "model": self.model,
            "charts": self.charts,
            "learned_on": self.learned_on,
            "reference_error": self.reference_error,
            "mean": [float(v) for v in self.mean],
            "covariance": [[float(v) for v in row] for row in self.covariance],
        }

    @classmethod
    def from_dict(cls, record: Mapping[str, Any]) -> CameraProfile:
        """The inverse of `to_dict`; raises PhotoError for a record that does not fit."""
        if record.get("format") != _FORMAT:
            raise PhotoError(
                f"This camera profile has format {record.get('format')!r}; this version reads format {_FORMAT}. "
                "Photograph the chart once more to make a new one."
            )
        n = len(_WHICH)
        try:
            return cls(
                model=str(record["model"]),
                mean=read_only(finite_array(record["mean"], name="The profile's mean", shape=(n,))),
                covariance=read_only(finite_array(record["covariance"], name="The profile's covariance", shape=(n, n))),
                charts=int(record.get("charts", 1)),
                learned_on=str(record.get("learned_on", "")),
                reference_error=float(record.get("reference_error", 0.0)),
            )
        except (KeyError, TypeError, ValueError) as error:
            raise PhotoError(
                f"This camera profile is not complete ({error}). Photograph the chart once more to make a new one."
            ) from None


def profile_from(correction: Correction, *, model: str, learned_on: str) -> CameraProfile:
    """The camera's part of an estimate fitted to a chart."""
    mean, covariance = correction.estimate.mean[_WHICH], correction.estimate.covariance[np.ix_(_WHICH, _WHICH)]
    return CameraProfile(
        model, read_only(mean), read_only(covariance), learned_on=learned_on, reference_error=correction.reference_error
    )


def combine_profiles(profiles: Sequence[CameraProfile]) -> CameraProfile:
    """One profile from several of the same camera (different lamps are welcome); raises PhotoError."""
    if not profiles:
        raise PhotoError("There is no camera profile to combine; photograph a chart first.")
    models = {p.model for p in profiles}
    if len(models) > 1:
        names = ", ".join(sorted(models))
        raise PhotoError(f"These profiles are of different cameras ({names}); combine one camera at a time.")
    counts = np.array([p.charts for p in profiles], dtype=np.float64)
    share = counts / counts.sum()
    mean = np.einsum("k,kp->p", share, np.stack([p.mean for p in profiles]))
    covariance = np.einsum("k,kpq->pq", share**2, np.stack([p.covariance for p in profiles]))
    return CameraProfile(
        models.pop(),
        read_only(mean),
        read_only(covariance),
        int(counts.sum()),
        max(p.learned_on for p in profiles),
        float(share @ [p.reference_error for p in profiles]),
    )
