"""Whether two tones read as two: their difference in every state, with how sure that is.

Both tones come from the same uncertain optical constants, so their errors are largely shared: an error
about the cement moves both alike and hardly touches the difference. The joint covariance is kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..arrays import FloatArray
from ..difference import delta_e_2000
from ..frozen import FrozenMapping
from ..loads import Mix, per_cent
from ..palette import Palette
from ..saying import READS_AS_ONE, READS_AS_TWO
from ..states import in_order, state_words

Reading = Literal["one", "faint", "two"]

_DRAWS = 2000  # a share of 0.2 is then known to 0.01
_SEED = 20260101  # any: the same answer every time
_WORTH_SAYING = 0.2  # probability from which a possible change of reading is mentioned


@dataclass(frozen=True, slots=True)
class StateContrast:
    """Two tones in one state: the predicted difference and its likely range.

    delta_e: dE00 of the two predicted shades. low, high: 90 % interval over what the shades may turn out to be; where
    they are little known it lies above delta_e, because errors rarely bring two tones together. delta_lightness: L* of
    the second less that of the first.
    """

    state: str
    delta_e: float
    low: float
    high: float
    delta_lightness: float

    @property
    def reads(self) -> Reading:
        """How the predicted difference reads: as one, faintly as two, or as two."""
        return "one" if self.delta_e < READS_AS_ONE else "two" if self.delta_e > READS_AS_TWO else "faint"


@dataclass(frozen=True, slots=True)
class Contrast:
    """The two tones of a design in every state the palette knows, and what to watch for."""

    states: Mapping[str, StateContrast]
    warnings: tuple[str, ...]


def contrast(palette: Palette, one: Mix, two: Mix) -> Contrast:
    """dE00 and L* difference between the two tones of a design, wet, at demould, dry and sealed.

    The interval comes from draws of the joint normal distribution of both tones in all states (fixed
    seed), each tone with a cast-to-cast scatter of its own. Raises UnknownNameError or LoadError.
    """
    states = in_order(("dry", *palette.states))
    lab, covariance = joint_prediction(palette, (one, two), states)
    draws = _draws(lab, covariance)
    distances = delta_e_2000(draws[:, 0], draws[:, 1])  # (draws, states)
    found = {
        state: StateContrast(
            state=state,
            delta_e=float(delta_e_2000(lab[0, i], lab[1, i])),
            low=float(np.quantile(distances[:, i], 0.05)),
            high=float(np.quantile(distances[:, i], 0.95)),
            delta_lightness=float(lab[1, i, 0] - lab[0, i, 0]),
        )
        for i, state in enumerate(states)
    }
    return Contrast(FrozenMapping(found), tuple(_warnings(states, found, distances)))


def joint_prediction(palette: Palette, tones: tuple[Mix, Mix], states: list[str]) -> tuple[FloatArray, FloatArray]:
    """CIELAB (2, n_states, 3) and covariance (6 n_states, 6 n_states) of both tones in all states.

    The cast-to-cast scatter is one per tone, the same in every state: it is the same piece drying.
    """
    labs, slopes = [], []
    for tone in tones:
        loads = palette.load_vector(tone.loads)[None, :]
        per_state = [palette.parameter_slopes(loads, base=tone.base, state=state) for state in states]
        labs.append([lab[0] for lab, _ in per_state])
        slopes.append([slope[0] for _, slope in per_state])
    jacobian = np.array(slopes).reshape(6 * len(states), -1)
    casting = np.kron(np.eye(2), np.kron(np.ones((len(states), len(states))), np.eye(3)))
    covariance = jacobian @ palette.covariance @ jacobian.T + palette.cast_sd**2 * casting
    return np.array(labs), covariance


def _draws(lab: FloatArray, covariance: FloatArray) -> FloatArray:
    values, vectors = np.linalg.eigh(covariance)
    root = vectors * np.sqrt(np.maximum(values, 0))
    normal = np.random.default_rng(_SEED).standard_normal((_DRAWS, len(covariance)))
    drawn = (normal @ root.T).reshape(_DRAWS, *lab.shape) + lab
    drawn[..., 0] = np.clip(drawn[..., 0], 0, 100)
    return np.asarray(drawn, dtype=np.float64)


def _warnings(states: list[str], found: Mapping[str, StateContrast], distances: FloatArray) -> list[str]:
    """Where the design reads differently before and after it has dried, or after sealing."""
    sentences = []
    dry = states.index("dry")
    for other, state in enumerate(states):
        if state == "dry":
            continue
        before, after = found[state], found["dry"]
        name = state_words(state)
        fading = _chance(distances[:, other], distances[:, dry])
        growing = _chance(distances[:, dry], distances[:, other])
        if before.reads == "two" and after.reads == "one":
            sentences.append(
                f"Reads as two tones {name} ({before.delta_e:.1f} dE00) but as one when dry ({after.delta_e:.1f})."
            )
        elif before.reads == "one" and after.reads == "two":
            sentences.append(
                f"Reads as one tone {name} ({before.delta_e:.1f} dE00) but as two when dry ({after.delta_e:.1f})."
            )
        elif max(fading, growing) >= _WORTH_SAYING:
            first, second = ("two", "one") if fading >= growing else ("one", "two")
            sentences.append(
                f"May read as {first} {name} but as {second} when dry: {per_cent(max(fading, growing), 0)} likely by "
                "what is known of these pigments. A test tile of each tone, wet and dry, would tell."
            )
    if all(found[state].reads == "one" for state in states):
        sentences.append(
            f"The tones read as one in every state (dry {found['dry'].delta_e:.1f} dE00, under "
            f"{READS_AS_ONE:g}): move one of them lighter, darker or to another hue."
        )
    return sentences


def _chance(as_two: FloatArray, as_one: FloatArray) -> float:
    return float(((as_two > READS_AS_TWO) & (as_one < READS_AS_ONE)).mean())
