"""The dry shade from the wet one: what a piece photographed at demould will look like when it has dried."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from .. import mixture
from ..arrays import FloatArray
from ..errors import InputError
from ..loads import STUDIO_CAP
from ..palette import Palette
from ..shade import Shade
from ..states import STATE_PRIOR_SD, state_kind
from .observe import CAST_CARRIED
from .pairs import Pairs, drying_map

# Tried, kept as alike, draws of the palette: a judgement between time and an even spread of answers.
_MIXTURES, _KEPT, _DRAWS, _SEED = 4000, 60, 48, 7
# What a law of wetting misses when neither recipe nor a pair of one's own is known: 82,427 moist and dry soils differ
# by 15 +- 7 L*, and 100 others came out 4.6 dE00 off, far outside the band of the palette alone. About 5 dE00 together.
_UNTOLD = np.diag([5.5, 2.0, 2.5]) ** 2
_DRAWING_STEPS, _MOST_AT_ONCE = 2, 3  # steps towards the shade; pigments at once; a judgement of time


def dry_from_wet(
    palette: Palette,
    shade: Shade,
    loads: Mapping[str, float] | None = None,
    *,
    base: str,
    state: str = "demould",
    pairs: Pairs = (),
) -> Shade:
    """The dry shade of a piece measured in `state` (demould or wet), with its uncertainty.

    loads: the recipe; the measurement then corrects what the palette predicts for it. None: an average over
    the recipes of up to three pigments within 5 % that would look like this, so the band is wider: about 5 dE00 until
    tiles or pairs of her own tell. pairs: (wet, dry) shades of pieces of hers; from four on they make a line of their
    own (`drying_map`), taken where it is surer than the average over recipes.
    Raises InputError for a state that is not wet and for wrong types, UnknownNameError or LoadError for the recipe.
    """
    if not isinstance(palette, Palette) or not isinstance(shade, Shade):
        got = f"{type(palette).__name__} and {type(shade).__name__}"
        raise InputError(f"dry_from_wet takes a Palette and the Shade that was measured; got {got}.")
    if state_kind(state) not in ("demould", "wet"):
        raise InputError(f"The state is {state!r}; it must be 'demould' or 'wet'.")
    if loads is not None:
        return _of_recipe(palette, shade, palette.load_vector(loads)[None, :], base, state)
    own, averaged = drying_map(pairs), _over_recipes(palette, shade, base, state)
    if own is None:
        return averaged
    return min(own.dry(shade), averaged, key=lambda dry: dry.sd)


def _over_recipes(palette: Palette, shade: Shade, base: str, state: str) -> Shade:
    """Over draws of the palette's parameters, and in each over the recipes that would look like the shade."""
    noise = shade.covariance + palette.cast_sd**2 * np.eye(3)
    drawn = np.random.default_rng(_SEED).multivariate_normal(
        palette.mean, palette.covariance, size=_DRAWS, method="eigh"
    )
    dry, chance = [], []
    for parameters in drawn:
        then = palette.with_posterior(parameters, palette.covariance)
        recipes = recipes_near(then, shade.lab, base=base, state=state)
        off = then.predict_many(recipes, base=base, state=state) - shade.lab
        far = np.einsum("ni,ij,nj->n", off, np.linalg.inv(noise), off)
        dry.append(then.predict_many(recipes, base=base))
        chance.append(-0.5 * far)
    means, weight = np.concatenate(dry), np.concatenate(chance)
    weight = np.exp(weight - weight.max())
    weight /= weight.sum()
    mean = weight @ means
    apart = means - mean
    covariance = (apart.T * weight) @ apart + shade.covariance + _untold(palette, state) * _UNTOLD
    return Shade(mean, covariance=covariance + 2 * (1 - CAST_CARRIED) * palette.cast_sd**2 * np.eye(3))


def _untold(palette: Palette, state: str) -> float:
    """1 for a state of which no tile was learned, towards 0 as the maker's own pairs tell what water does."""
    place = palette.layout.state(state).start
    return float(min(1.0, palette.covariance[place, place] / STATE_PRIOR_SD[state_kind(state)][0] ** 2))


def _of_recipe(palette: Palette, shade: Shade, loads: FloatArray, base: str, state: str) -> Shade:
    """What is predicted for loads (1, n_pigments), corrected by what the wet piece shows."""
    (wet,), (wet_slopes,) = palette.parameter_slopes(loads, base=base, state=state)
    (dry,), (dry_slopes,) = palette.parameter_slopes(loads, base=base)
    cast = palette.cast_sd**2 * np.eye(3)
    seen = wet_slopes @ palette.covariance @ wet_slopes.T + cast + shade.covariance
    across = dry_slopes @ palette.covariance @ wet_slopes.T + CAST_CARRIED * cast
    gain = np.linalg.solve(seen, across.T).T
    covariance = dry_slopes @ palette.covariance @ dry_slopes.T + cast - gain @ across.T
    return Shade(dry + gain @ (shade.lab - wet), covariance=(covariance + covariance.T) / 2)


def recipes_near(
    palette: Palette,
    lab: FloatArray,
    *,
    base: str,
    state: str = "dry",
    cap: float = STUDIO_CAP,
    count: int = _KEPT,
    pigments: Sequence[str] | None = None,
) -> FloatArray:
    """(2 count, n_pigments) recipes that come near a shade: the nearest of many random ones, and each drawn closer.

    Not a recipe solver: a spread of different ways to the same shade, to average over.
    """
    loads = random_recipes(palette, _MIXTURES, cap=cap, seed=_SEED, pigments=pigments)
    coefficients = palette.coefficients(base, state)
    far = np.linalg.norm(mixture.lab(coefficients, loads) - lab, axis=1)
    near = loads[np.argsort(far)[:count]]
    closer = near
    for _ in range(_DRAWING_STEPS):
        here, slopes = mixture.lab_and_load_slopes(coefficients, closer)
        used = slopes * (closer > 0)[:, None, :]
        step = np.linalg.pinv(used, rcond=1e-3) @ (lab - here)[:, :, None]
        closer = _within_limits(palette, np.maximum(closer + step[:, :, 0] * (closer > 0), 0.0), cap)
    return np.concatenate([near, closer])


def random_recipes(
    palette: Palette, count: int, *, cap: float, seed: int, pigments: Sequence[str] | None = None
) -> FloatArray:
    """(count, n_pigments) loads of up to three of the pigments (None: of all), in all at most `cap`.

    The first is the blank.
    """
    names = list(palette.pigments)
    places = np.array([names.index(name) for name in (names if pigments is None else pigments)], dtype=int)
    loads = np.zeros((count, len(names)))
    if places.size == 0:
        return loads
    rng = np.random.default_rng(seed)
    order = np.argsort(rng.random((count, places.size)), axis=1)
    allowed = rng.integers(1, min(_MOST_AT_ONCE, places.size) + 1, size=(count, 1))
    shares = rng.exponential(size=(count, places.size)) * (order < allowed)
    # even in the logarithm, because a tenth of a per cent of a strong pigment already shows
    total = cap * np.exp(rng.uniform(np.log(0.02), 0.0, size=(count, 1)))
    loads[:, places] = shares * total / shares.sum(axis=1, keepdims=True)
    loads[0] = 0.0
    return _within_limits(palette, loads, cap)


def _within_limits(palette: Palette, loads: FloatArray, cap: float) -> FloatArray:
    """Loads scaled down to the cap and, as ASTM C979 asks, to the smallest maximum of the pigments in them."""
    limits = np.array([pigment.maximum_load for pigment in palette.pigments.values()])
    lowest = np.where(loads > 0, limits, cap).min(axis=1, initial=cap)
    scale: FloatArray = np.minimum(1.0, lowest / np.maximum(loads.sum(axis=1), 1e-12))
    return loads * scale[:, None]
