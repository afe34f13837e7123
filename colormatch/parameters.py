"""The unknowns of a palette as one vector: who sits where, on which knots, with which prior.

Every curve is a shape on the 31 bands (from the starter data, or flat) times exp(basis @ knots), so a
parameter is the logarithm of a correction and the prior mean of a known curve is zero. Knots:
every 50 nm, absorption joined by a natural cubic spline, scattering by straight lines (seven scattering
knots, not three: real pigments' scattering spans a factor of thirty over the visible). The prior on the
knots is a Gaussian process (squared exponential) plus a common factor, the strength.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from .arrays import FloatArray, read_only
from .errors import UnknownNameError
from .spectra import WAVELENGTHS_NM

KNOTS_NM = np.arange(400.0, 701.0, 50.0)  # finer than the bands of inorganic pigments are wide; a judgement
N_KNOTS = len(KNOTS_NM)
BASE_SIZE = N_KNOTS + 1  # log K0 at the knots, log of one scatter factor
PIGMENT_SIZE = 2 * N_KNOTS
STATE_SIZE = 3  # log of the base's and the pigments' pore factor, logit of the cover


@cache
def absorption_basis() -> FloatArray:
    """(31, 7): natural cubic spline through the absorption knots; each row sums to one."""
    from scipy.interpolate import CubicSpline

    spline = CubicSpline(KNOTS_NM, np.eye(N_KNOTS), bc_type="natural")
    return read_only(np.asarray(spline(WAVELENGTHS_NM)))


@cache
def scattering_basis() -> FloatArray:
    """(31, 7): straight lines between the knots; each row sums to one."""
    columns = [np.interp(WAVELENGTHS_NM, KNOTS_NM, row) for row in np.eye(N_KNOTS)]
    return read_only(np.stack(columns, axis=-1))


@dataclass(frozen=True, slots=True)
class CurvePrior:
    """Prior of one curve's logarithm: a free shape and a common strength, in log units.

    shape_sd with correlation length length_nm (squared exponential), strength_sd common to all knots.
    """

    shape_sd: float
    strength_sd: float
    length_nm: float

    def covariance(self, knots_nm: FloatArray) -> FloatArray:
        """(n, n) prior covariance at the knots."""
        apart = (knots_nm[:, None] - knots_nm) / self.length_nm
        return self.shape_sd**2 * np.exp(-0.5 * apart**2) + self.strength_sd**2


# Any cement: K0 from a white's 0.01 to a dark grey's 1, smooth over the spectrum (from memory).
UNKNOWN_BASE = CurvePrior(shape_sd=0.5, strength_sd=1.2, length_nm=150.0)
UNKNOWN_BASE_K = 0.1
# An unknown pigment, anything from a faint tint to carbon black, starts here; from memory.
UNKNOWN_LEVEL = 10.0
# From one bag or jar to the next of the same kind; from memory, learning widens or narrows it.
LOT_TO_LOT = CurvePrior(shape_sd=0.1, strength_sd=0.15, length_nm=100.0)

# How much less sure the strength of a pigment is for each factor e of load beyond what was cast: studios that are not
# Kubelka-Munk, learned from tiles up to 1 % and asked for 3 to 5 %: bands hold 77..97 % with 0.1, 63..95 % with 0.
BEYOND_SD = 0.14
# And for each g/g below the least that was cast: what grains lose by crowding grows with the load, so that little is to
# be learned below a weak tile. Twelve tiles from 2 % up: bands hold 88..91 % (78..88 % without, 84..90 % with 4), on
# studios 20..29 of tests/benchmarks/test_learning_bands.py, which checks others.
BELOW_SD = 6.0


@dataclass(frozen=True, slots=True)
class Layout:
    """Which part of the parameter vector belongs to whom.

    Order: bases, then pigments, then states (all but dry, which has nothing to learn).
    """

    bases: tuple[str, ...]
    pigments: tuple[str, ...]
    states: tuple[str, ...]

    @property
    def size(self) -> int:
        """Length of the parameter vector."""
        return len(self.bases) * BASE_SIZE + len(self.pigments) * PIGMENT_SIZE + len(self.states) * STATE_SIZE

    def base(self, name: str) -> slice:
        """Eight parameters: log K0 at seven knots, log of the scatter factor."""
        start = _place(self.bases, name, "base") * BASE_SIZE
        return slice(start, start + BASE_SIZE)

    @property
    def all_pigments(self) -> slice:
        """The parameters of all pigments, one pigment after the other."""
        start = len(self.bases) * BASE_SIZE
        return slice(start, start + len(self.pigments) * PIGMENT_SIZE)

    def pigment(self, name: str) -> slice:
        """Fourteen parameters: log k at seven knots, log s at seven."""
        start = self.all_pigments.start + _place(self.pigments, name, "pigment") * PIGMENT_SIZE
        return slice(start, start + PIGMENT_SIZE)

    def state(self, name: str) -> slice:
        """Three parameters of a state other than dry: log pore factors of base and pigments, logit cover."""
        start = self.all_pigments.stop + _place(self.states, name, "state") * STATE_SIZE
        return slice(start, start + STATE_SIZE)

    def shared_with(self, old: Layout) -> list[tuple[slice, slice]]:
        """(place here, place there) of everything an older, smaller layout holds."""
        return (
            [(self.base(name), old.base(name)) for name in old.bases]
            + [(self.pigment(name), old.pigment(name)) for name in old.pigments]
            + [(self.state(name), old.state(name)) for name in old.states]
        )


def pigment_covariance(absorption: CurvePrior, scattering: CurvePrior) -> FloatArray:
    """(14, 14) prior covariance of one pigment whose k and s are known apart."""
    block = np.zeros((PIGMENT_SIZE, PIGMENT_SIZE))
    block[:N_KNOTS, :N_KNOTS] = absorption.covariance(KNOTS_NM)
    block[N_KNOTS:, N_KNOTS:] = scattering.covariance(KNOTS_NM)
    return block


# How freely an unknown pigment's curves may bend: medians and sd of the logarithm of shape, strength and length (nm) of
# log(k/s), then of log s. From a pilot over simulated studios and 84 measured oil paints; the tiles then choose.
FREEDOM = np.array([1.2, 1.5, 70.0, 0.6, 0.9, 250.0])
FREEDOM_LOG_SD = np.array([0.4, 0.4, 0.3, 0.7, 0.4, 0.7])


def unknown_covariance(freedom: FloatArray = FREEDOM) -> tuple[FloatArray, FloatArray]:
    """(14, 14) prior covariance of an unknown pigment and its slopes (6, 14, 14) in the logarithm of `freedom` (6,).

    log(k/s) and log s are independent; log k is their sum.
    """
    of_ratio, of_scatter = np.array([[1.0, 0.0], [0.0, 0.0]]), np.ones((2, 2))
    parts = (of_ratio, _curve_and_slopes(*freedom[:3])), (of_scatter, _curve_and_slopes(*freedom[3:]))
    size = (-1, PIGMENT_SIZE, PIGMENT_SIZE)
    ratio, scatter = (np.einsum("ij,nkl->nikjl", of, part).reshape(size) for of, part in parts)
    return ratio[0] + scatter[0], np.concatenate([ratio[1:], scatter[1:]])


def _curve_and_slopes(shape: float, strength: float, length: float) -> FloatArray:
    """(4, knots, knots) covariance of a curve, then its slopes in the logarithms."""
    apart = ((KNOTS_NM[:, None] - KNOTS_NM) / length) ** 2
    bent, level = shape**2 * np.exp(-0.5 * apart), np.full_like(apart, strength**2)
    return np.stack([bent + level, 2 * bent, 2 * level, bent * apart])


def base_covariance(absorption: CurvePrior, scatter_sd: float) -> FloatArray:
    """(8, 8) prior covariance of one base; scatter_sd = 0 marks the reference base, whose S0 is 1."""
    block = np.zeros((BASE_SIZE, BASE_SIZE))
    block[:N_KNOTS, :N_KNOTS] = absorption.covariance(KNOTS_NM)
    block[N_KNOTS, N_KNOTS] = scatter_sd**2
    return block


def _place(names: tuple[str, ...], name: str, kind: str) -> int:
    try:
        return names.index(name)
    except ValueError:
        raise UnknownNameError(kind, name, names) from None
