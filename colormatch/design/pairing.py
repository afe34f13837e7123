"""What goes with a shade: lighter or darker of the same hue, a near hue, the opposite hue.

From the maker's own library, and from reach: every mix in round loads, all predicted at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import FloatArray
from ..colorimetry import lab_to_lch
from ..difference import delta_e_2000
from ..errors import InputError, UnknownNameError
from ..frozen import FrozenMapping
from ..palette import Palette
from ..recipes.limits import Limits
from ..saying import GREY, READS_AS_TWO
from ..shade import Shade

Relation = Literal["lighter", "darker", "near hue", "opposite hue"]
RELATIONS: tuple[str, ...] = get_args(Relation)

# What counts as which, in CIELAB (common practice of colour wheels, no source).
_STEP = 8.0  # L* from which one is lighter than the other
_SAME_HUE_DEG, _NEAR_HUE_DEG, _OPPOSITE_HUE_DEG = 15.0, (20.0, 70.0), 140.0
_HUE_UNSEEN = 4.0  # dH*ab below which a difference in hue is not noticed, whatever the angle
_NEAR_LIGHTNESS = 25.0  # L* by which a near or opposite hue may differ

_ROUND_LOADS = np.array([0.001, 0.0025, 0.005, 0.01, 0.02, 0.03, 0.05])  # easy to weigh
_MOST_PIGMENTS = 3  # a second tone should be quick to weigh
_SHARED_BONUS, _PIGMENT_COST = 0.5, 0.2  # in units of the rank, where 1 is clearly worse


@dataclass(frozen=True, slots=True)
class LibraryShade:
    """A shade the maker already has: its name, how it measured or is predicted, and its recipe if known."""

    name: str
    shade: Shade
    base: str = ""
    loads: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Partner:
    """A suggested second tone. shared: pigments it has in common with the first.

    delta_e: dE00 from the first tone, delta_lightness: its L* less that of the first, in the state asked.
    """

    relation: Relation
    origin: Literal["library", "reach"]
    name: str
    base: str
    loads: Mapping[str, float]
    shade: Shade
    shared: tuple[str, ...]
    delta_e: float
    delta_lightness: float


def relation(first: ArrayLike, second: ArrayLike) -> Relation | None:
    """How the second CIELAB colour (3,) stands to the first, or None for no relation with a name."""
    found = int(_relations(np.asarray(first, dtype=float), np.asarray(second, dtype=float)[None, :])[0][0])
    return None if found < 0 else get_args(Relation)[found]


def partners(
    palette: Palette,
    first: Mapping[str, float] | Shade,
    *,
    base: str,
    library: Sequence[LibraryShade] = (),
    limits: Limits | None = None,
    count: int = 2,
) -> tuple[Partner, ...]:
    """Second tones for a shade, or for the loads of a recipe: at most `count` from each origin per relation.

    library: dry shades to choose from. limits: cap, pigments, those that must be used and number of pigments of new
    recipes in `base`; at most three pigments are tried, in round loads. Pigments shared with the first
    tone are preferred. Every suggestion reads as two with it, by `contrast`'s threshold.
    Raises InputError, LoadError or UnknownNameError.
    """
    if isinstance(count, bool) or not 1 <= count <= 20:
        raise InputError(f"The number of suggestions is {count!r}; it must be 1 to 20.")
    if base not in palette.bases:
        raise UnknownNameError("base", base, palette.bases)
    if isinstance(first, Shade):
        own, lab = set[str](), first.lab
    else:
        own = {name for name, load in first.items() if load > 0}
        lab = palette.predict(first, base).lab
    suggestions: list[Partner] = []
    if library:
        labs = np.array([entry.shade.lab for entry in library])
        used = [{name for name, load in entry.loads.items() if load > 0} for entry in library]
        shared, sizes = np.array([bool(own & each) for each in used]), np.array([len(each) for each in used])
        for kind, row in _chosen(lab, labs, shared, sizes, count):
            suggestions.append(_partner(kind, "library", library[row], lab, own))
    loads = round_mixes(palette, limits or Limits())
    labs = palette.predict_many(loads, base=base)
    names = np.array(list(palette.pigments))
    shared, sizes = np.any(loads[:, np.isin(names, list(own))] > 0, axis=1), np.sum(loads > 0, axis=1)
    for kind, row in _chosen(lab, labs, shared, sizes, count):
        recipe = {str(n): float(load) for n, load in zip(names, loads[row], strict=True) if load > 0}
        shade = palette.predict(recipe, base)
        entry = LibraryShade(_in_words(palette, base, recipe), shade, base, recipe)
        suggestions.append(_partner(kind, "reach", entry, lab, own))
    return tuple(sorted(suggestions, key=lambda partner: RELATIONS.index(partner.relation)))


def round_mixes(palette: Palette, limits: Limits) -> FloatArray:
    """(n, n_pigments) all mixes of up to three allowed pigments in round loads, within every cap; bare first.

    Some tens of thousands for a dozen pigments. Of `limits`: load_cap, max_pigments, pigments, must_use, never_use.
    """
    names = list(palette.pigments)
    allowed = set(names if limits.pigments is None else limits.pigments) - set(limits.never_use)
    for name in sorted((allowed | set(limits.must_use)) - set(names)):
        raise UnknownNameError("pigment", name, names)
    places = [i for i, name in enumerate(names) if name in allowed]
    maxima = np.array([pigment.maximum_load for pigment in palette.pigments.values()])
    must = {names.index(name) for name in limits.must_use}
    mixes = [] if must else [np.zeros((1, len(names)))]
    for size in range(1, min(_MOST_PIGMENTS, limits.max_pigments) + 1):
        grid = np.stack(np.meshgrid(*[_ROUND_LOADS] * size, indexing="ij"), axis=-1).reshape(-1, size)
        for chosen in combinations(places, size):
            if not must <= set(chosen):
                continue
            cap = min(limits.load_cap, float(maxima[list(chosen)].min()))
            within = grid[grid.sum(axis=1) <= cap + 1e-12]
            mix = np.zeros((len(within), len(names)))
            mix[:, chosen] = within
            mixes.append(mix)
    return np.concatenate(mixes) if mixes else np.zeros((0, len(names)))


def _chosen(
    lab: FloatArray, labs: FloatArray, shared: NDArray[np.bool_], sizes: NDArray[np.int64], count: int
) -> Iterable[tuple[Relation, int]]:
    """The best rows of each relation, none too like another. shared (n,): a pigment in common; sizes (n,): how many."""
    kinds, ranks = _relations(lab, labs)
    ranks = ranks - _SHARED_BONUS * shared + _PIGMENT_COST * sizes
    apart = delta_e_2000(lab, labs) >= READS_AS_TWO
    for index, kind in enumerate(get_args(Relation)):
        rows = np.flatnonzero((kinds == index) & apart)
        rows = rows[np.argsort(ranks[rows], kind="stable")]
        for _ in range(count):
            if len(rows):
                yield kind, int(rows[0])
                rows = rows[delta_e_2000(labs[rows[0]], labs[rows]) >= READS_AS_TWO]


def _relations(first: FloatArray, others: FloatArray) -> tuple[NDArray[np.int64], FloatArray]:
    """Index into RELATIONS (n,), -1 for none, and how far each is from the ideal of its relation (n,)."""
    one, two = lab_to_lch(first), lab_to_lch(others)
    dl, dc = two[:, 0] - one[0], two[:, 1] - one[1]
    turn = np.abs((two[:, 2] - one[2] + 180) % 360 - 180)
    dh = 2 * np.sqrt(two[:, 1] * one[1]) * np.sin(np.radians(turn) / 2)
    grey = (two[:, 1] < GREY) | (one[1] < GREY)
    same = (turn <= _SAME_HUE_DEG) | (dh <= _HUE_UNSEEN) | (two[:, 1] < GREY)
    seen = ~grey & (dh > _HUE_UNSEEN) & (np.abs(dl) <= _NEAR_LIGHTNESS)
    near = seen & (turn >= _NEAR_HUE_DEG[0]) & (turn <= _NEAR_HUE_DEG[1])
    opposite = seen & (turn >= _OPPOSITE_HUE_DEG)
    # In order of RELATIONS; the ideals: 18 in L*, 40 degrees, 180 degrees, otherwise alike. They, and what counts as
    # clearly worse (the divisors), are judgements.
    tests = [same & (dl >= _STEP), same & (dl <= -_STEP), near, opposite]
    step = np.abs(np.abs(dl) - 18) / 10 + np.abs(dc) / 12 + dh / 4
    ideals = [
        step,
        step,
        np.abs(turn - 40) / 15 + np.abs(dl) / 12 + np.abs(dc) / 15,
        (180 - turn) / 20 + np.abs(dl) / 15 + np.abs(dc) / 20,
    ]
    return np.select(tests, range(4), default=-1), np.select(tests, ideals, default=np.inf)


def _partner(
    kind: Relation, origin: Literal["library", "reach"], entry: LibraryShade, lab: FloatArray, own: set[str]
) -> Partner:
    return Partner(
        relation=kind,
        origin=origin,
        name=entry.name,
        base=entry.base,
        loads=FrozenMapping(entry.loads),
        shade=entry.shade,
        shared=tuple(name for name, load in entry.loads.items() if load > 0 and name in own),
        delta_e=float(delta_e_2000(lab, entry.shade.lab)),
        delta_lightness=float(entry.shade.lab[0] - lab[0]),
    )


def _in_words(palette: Palette, base: str, recipe: Mapping[str, float]) -> str:
    """`0.5 % Black iron oxide + 2 % Red iron oxide`, or the cement's own name."""
    parts = [f"{load * 100:g} % {palette.pigments[name].label}" for name, load in recipe.items()]
    return " + ".join(parts) or palette.bases[base].label
