"""What may have gone wrong with a fresh piece: each single slip, how large it must have been, how well it explains.

Every slip turns the recipe's prediction into another one; its size is the one nearest to the measured shade,
weighed against how common such a size is (from memory). Slips that colour alone cannot tell apart come out
together, and the words say so.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from .. import mixture
from ..arrays import FloatArray
from ..difference import delta_e_2000
from ..loads import per_cent
from ..mixture import Coefficients
from ..palette import Palette
from ..shade import Shade
from ..states import drying_share

Kind = Literal["strength", "water", "dispersion", "too much", "forgotten", "wrong pigment", "drying"]

_FACTORS = np.geomspace(0.3, 3.0, 93)  # in steps of 2.5 %
_SATURATIONS = np.linspace(0.02, 0.98, 49)  # in steps of 2 %
# How common a slip is, and the sd of its size in the logarithm; from memory.
_STRENGTH_SD, _ONE_PIGMENT_SD, _WATER_SD = 0.2, 0.3, 0.2
_COMMON, _SELDOM, _RARE = 0.0, -1.5, -3.0
_MOST_GO_WELL = 3.0  # log odds that nothing went wrong, before looking; from memory
_ONE_OF_TWO = 0.7  # log odds off each of two slips of one jar: log 2, half to each
_KEPT_ODDS = -5.0  # causes less likely than exp(-5) of the best are not told
# Judgements: the share of the colour difference a cause must take away, and how near to one a factor is no slip.
_EXPLAINS, _NOT_WORTH = 0.5, 0.03


@dataclass(frozen=True, slots=True)
class Cause:
    """One slip: its size (factor on the load or the scattering, saturation, or 1), what it does to the shade.

    delta_e: how far it moves the shade from the prediction; left_delta_e: what it leaves unexplained;
    weight: how likely it is among all causes told, 0..1; odds: natural logarithm of its odds against "all was
    as the sheet says". loads: what would be in the piece; as planned for water and drying.
    """

    kind: Kind
    words: str
    size: float
    delta_e: float
    left_delta_e: float
    weight: float
    odds: float
    loads: Mapping[str, float]
    pigment: str = ""


@dataclass(frozen=True, slots=True)
class _Trial:
    """Labs (m, 3) for the sizes (m,) of one slip and the log odds (m,) of such a size."""

    kind: Kind
    pigment: str
    sizes: FloatArray
    labs: FloatArray
    odds: FloatArray
    other: str = ""

    def loads(self, planned: Mapping[str, float], size: float) -> dict[str, float]:
        """What would be in a piece with this slip."""
        if self.kind in ("water", "drying"):
            return dict(planned)
        changed = {self.pigment} if self.pigment else set(planned)
        loads = {name: load * (size if name in changed else 1.0) for name, load in planned.items()}
        if self.kind == "wrong pigment":
            loads[self.other] = loads.pop(self.pigment)
        return loads


def likely_causes(
    palette: Palette, loads: Mapping[str, float], base: str, measured: Shade, state: str = "demould"
) -> tuple[Cause, ...]:
    """Single slips that would explain the measured shade, the likeliest first; none if none would."""
    vector = palette.load_vector(loads)
    (planned,), covariance = palette.predict_with_covariance(vector[None, :], base=base, state=state)
    precision = np.linalg.inv(covariance[0] + measured.covariance)
    whole = float(delta_e_2000(planned, measured.lab))
    found = []
    for trial in _trials(palette, vector, base, state):
        off = trial.labs - measured.lab
        score = trial.odds - 0.5 * np.einsum("mi,ij,mj->m", off, precision, off)
        best = int(np.argmax(score))
        left = float(delta_e_2000(trial.labs[best], measured.lab))
        size = float(trial.sizes[best])
        if left <= (1 - _EXPLAINS) * whole and (trial.kind in _WITHOUT_SIZE or abs(size - 1) > _NOT_WORTH):
            moved = float(delta_e_2000(trial.labs[best], planned))
            found.append((float(score[best]), trial, size, moved, left))
    found.sort(key=lambda each: -each[0])
    found = [each for each in found if each[0] - found[0][0] > _KEPT_ODDS]
    total = sum(np.exp(each[0] - found[0][0]) for each in found)
    off = planned - measured.lab
    nothing_wrong = _MOST_GO_WELL - 0.5 * float(off @ precision @ off)
    return tuple(
        Cause(
            kind=trial.kind,
            words=_words(palette, trial, size, moved),
            size=size,
            delta_e=moved,
            left_delta_e=left,
            weight=float(np.exp(score - found[0][0]) / total),
            odds=score - nothing_wrong,
            loads=trial.loads(loads, size),
            pigment=trial.pigment,
        )
        for score, trial, size, moved, left in found
    )


_WITHOUT_SIZE = ("forgotten", "wrong pigment", "drying")


def _trials(palette: Palette, vector: FloatArray, base: str, state: str) -> Iterator[_Trial]:
    coefficients = palette.coefficients(base, state)
    names = list(palette.pigments)
    used = np.flatnonzero(vector > 0)
    if len(used):
        labs = mixture.lab(coefficients, _FACTORS[:, None] * vector)
        yield _Trial("strength", "", _FACTORS, labs, _COMMON + _size_odds(_STRENGTH_SD))
    for place in (int(each) for each in used):
        labs = mixture.lab(coefficients, _with(vector, place, _FACTORS * vector[place]))
        odds = _size_odds(_ONE_PIGMENT_SD)
        weak = _FACTORS < 1
        if len(used) > 1:  # with one pigment it is the strength
            yield _Trial("dispersion", names[place], _FACTORS[weak], labs[weak], odds[weak] - _ONE_OF_TWO)
            yield _Trial("too much", names[place], _FACTORS[~weak], labs[~weak], odds[~weak] - _ONE_OF_TWO)
        none = mixture.lab(coefficients, _with(vector, place, np.zeros(1)))
        yield _Trial("forgotten", names[place], np.zeros(1), none, np.array([_SELDOM]))
        for other in range(len(names)):
            if other not in used:
                swapped = _with(vector, place, np.zeros(1))
                swapped[:, other] = vector[place]
                lab = mixture.lab(coefficients, swapped)
                yield _Trial("wrong pigment", names[place], np.ones(1), lab, np.array([_RARE]), names[other])
    yield _water(coefficients, vector)
    dry = mixture.lab(palette.coefficients(base), vector[None, :])[0]
    wet = mixture.lab(coefficients, vector[None, :])[0]
    share = drying_share(_SATURATIONS)[:, None]
    yield _Trial("drying", "", _SATURATIONS, wet + share * (dry - wet), np.full(len(share), _SELDOM - 1.0))


def _water(coefficients: Coefficients, vector: FloatArray) -> _Trial:
    """More water leaves more pores, so the paste scatters more and is lighter; one factor on its scattering."""
    labs = [
        mixture.lab(replace(coefficients, base_s=factor * coefficients.base_s), vector[None, :])[0]
        for factor in _FACTORS
    ]
    return _Trial("water", "", _FACTORS, np.array(labs), _COMMON + _size_odds(_WATER_SD))


def _size_odds(sd: float) -> FloatArray:
    """Log odds of each factor: Student's t with 3 degrees of freedom, because slips are now and then gross."""
    return np.asarray(-2 * np.log1p((np.log(_FACTORS) / sd) ** 2 / 3))


def _with(vector: FloatArray, place: int, values: FloatArray) -> FloatArray:
    rows = np.repeat(vector[None, :], len(values), axis=0)
    rows[:, place] = values
    return rows


def _words(palette: Palette, trial: _Trial, size: float, moved: float) -> str:
    pigment = palette.label(trial.pigment)
    effect = f" ({moved:.1f} dE00)"
    percent = per_cent(abs(size - 1), 0)
    if trial.kind == "strength":
        if size < 1:
            return f"all pigment {percent} too weak{effect}: too much cement, a weaker lot, or not mixed long enough"
        return f"all pigment {percent} too strong{effect}: too little cement, or a stronger lot"
    if trial.kind == "dispersion":
        return f"{pigment} {percent} too weak{effect}: lumps not broken up, or weighed short"
    if trial.kind == "too much":
        return f"{percent} too much {pigment}{effect}"
    if trial.kind == "forgotten":
        return f"{pigment} forgotten{effect}"
    if trial.kind == "wrong pigment":
        return f"{palette.label(trial.other)} weighed in place of {pigment}{effect}"
    if trial.kind == "drying":
        return f"already drying when it was photographed{effect}: wet the surface evenly and photograph again"
    more = "more" if size > 1 else "less"
    return f"{more} water than usual{effect}: the paste scatters {percent} {more}"
