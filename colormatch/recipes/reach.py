"""What a palette can reach under a cap; and of a shade out of reach how far, what stops it, what would help."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .. import difference
from ..arrays import FloatArray
from ..colorimetry import lab_to_lch
from ..difference import JUST_SEEN, delta_e_2000
from ..errors import ColormatchError, InputError
from ..loads import ASTM_C979_MAXIMUM, per_cent
from ..palette import Palette, Pigment
from ..saying import GREY, capital, compared
from ..shade import Shade
from ..starter import starter_palette
from .far import solve_by_eye
from .limits import MOST_PIGMENTS, Limits
from .problem import Problem
from .starts import coarse_grid

_WORTH = JUST_SEEN / 2  # a remedy is named when it brings the shade this much nearer
_AT_LIMIT = 1 - 1e-3  # of a limit: as good as at it
SLICES = (30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0)  # L*: from the darkest cement to near white
_HALF_SLICE = 2.5  # L*
_TOTALS = np.concatenate([[0.004, 0.012], np.geomspace(0.03, 1.0, 10)])  # shares of the cap
_PARTS = 6  # each total is shared out in sixths


@dataclass(frozen=True, eq=False, slots=True)
class ReachSlice:
    """A slice of the reach, 5 L* thick: outline (p, 2) in a*, b*, convex, anticlockwise; p = 0: nothing there."""

    lightness: float
    outline: FloatArray


@dataclass(frozen=True, eq=False, slots=True)
class Reach:
    """What a base reaches in a state at a cap: lab (m, 3) of many recipes, slices, range of L*.

    The outlines are convex, so a hollow in the true rim is drawn filled; whether one shade can be met is
    for `find_recipes` or `explain_reach` to say.
    """

    base: str
    state: str
    load_cap: float
    lab: FloatArray
    slices: tuple[ReachSlice, ...]

    @property
    def lightness_range(self) -> tuple[float, float]:
        """The darkest and the lightest L*."""
        return float(self.lab[:, 0].min()), float(self.lab[:, 0].max())


def reach(
    palette: Palette,
    base: str = "white-cement",
    limits: Limits | None = None,
    *,
    state: str = "dry",
    lightness: tuple[float, ...] = SLICES,
) -> Reach:
    """The reach of a palette on one base; raises UnknownNameError, LoadError or RecipeError."""
    problem = Problem(palette, base, state, limits or Limits())
    loads, _ = coarse_grid(problem, _TOTALS, _PARTS)
    lab = problem.lab(np.concatenate([problem.fixed[None, :] + problem.low, loads]))
    slices = tuple(ReachSlice(level, _outline(lab, level)) for level in lightness)
    return Reach(base, state, problem.limits.load_cap, lab, slices)


def _outline(lab: FloatArray, level: float) -> FloatArray:
    from scipy.spatial import ConvexHull, QhullError

    points = lab[np.abs(lab[:, 0] - level) <= _HALF_SLICE, 1:]
    if len(points) < 3:
        return np.zeros((0, 2))
    try:
        return np.asarray(points[ConvexHull(points).vertices], dtype=np.float64)
    except QhullError:  # all on one line: a palette of greys
        return np.zeros((0, 2))


@dataclass(frozen=True, slots=True)
class Remedy:
    """One thing to change, the distance then left, and a sentence that says both."""

    what: str
    distance: float
    sentence: str


@dataclass(frozen=True, slots=True)
class ReachReport:
    """Whether a shade can be met under the limits, and if not, why.

    distance: CIEDE2000 of the nearest shade by the model's mean, before rounding to the scale. loads: its
    recipe. obstacles: sentences, what stops it. remedies: what would help, the best first.
    """

    target: Shade
    base: str
    in_reach: bool
    distance: float
    nearest: Shade
    loads: dict[str, float]
    obstacles: tuple[str, ...]
    remedies: tuple[Remedy, ...]

    @property
    def sentence(self) -> str:
        """The whole of it in a few plain sentences."""
        if self.in_reach:
            return f"Within reach: {self.distance:.1f} dE00 from the nearest shade that can be cast."
        words = [f"Out of reach by {self.distance:.1f} dE00.", *self.obstacles]
        words += [remedy.sentence for remedy in self.remedies[:2]] or ["Nothing in this palette would help."]
        return " ".join(words)


def explain_reach(
    palette: Palette,
    target: Shade,
    base: str = "white-cement",
    limits: Limits | None = None,
    *,
    state: str = "dry",
    nearest: Mapping[str, float] | None = None,
    buying: bool = True,
) -> ReachReport:
    """How near a shade can be come, what stops it and what would fix it; errors as `find_recipes`.

    nearest: `Recipe.nearest` of a recipe for the same, which is looked for again without it. buying: whether starter
    pigments that are not in the palette are tried as remedies (see `what_to_buy`).
    """
    problem = Problem(palette, base, state, limits or Limits())
    loads = _nearest(problem, target) if nearest is None else palette.load_vector(nearest)
    nearest_lab = problem.lab(loads[None, :])[0]
    distance = float(delta_e_2000(target.lab, nearest_lab))
    named = problem.named(loads)
    within = distance <= JUST_SEEN
    remedies = [] if within else _remedies(problem, target, distance, loads, buying)
    return ReachReport(
        target=target,
        base=base,
        in_reach=within,
        distance=distance,
        nearest=palette.predict(named, base, state),
        loads=named,
        obstacles=() if within else _obstacles(problem, target.lab, nearest_lab, loads),
        remedies=tuple(remedies),
    )


@dataclass(frozen=True, slots=True)
class Purchase:
    """One starter pigment more. before, after: CIEDE2000 (t,) of the nearest mix to each shade, without and with it.

    label: the pigment as it is called.
    """

    pigment: str
    label: str
    before: FloatArray
    after: FloatArray
    sentence: str


def what_to_buy(
    palette: Palette,
    targets: Sequence[Shade],
    base: str = "white-cement",
    limits: Limits | None = None,
    *,
    state: str = "dry",
    have: Collection[str] = (),
) -> list[Purchase]:
    """The starter pigments not in the palette that bring the wanted shades nearer, the best one first.

    have: starter pigments that are there under another name. Ordered by how many shades come within reach, then by
    how much nearer all of them come. Errors as `find_recipes`.
    """
    problem, labs = Problem(palette, base, state, limits or Limits()), np.array([shade.lab for shade in targets])
    if not len(labs):
        raise InputError("No shade is wanted; give a list of Shade.")
    lacking = _not_here(palette, have)
    if not lacking:
        return []
    before, found = _distances(problem, labs), []
    for pigment in lacking:
        after = np.minimum(_distances(_with_jar(problem, pigment), labs), before)
        if (before - after).max() < _WORTH:
            continue
        new = int(np.count_nonzero((after <= JUST_SEEN) & (before > JUST_SEEN)))
        reach = f"brings {new} of {len(labs)} shades within reach and " if new else ""
        nearer = f"{reach}takes them from {before.mean():.1f} to {after.mean():.1f} dE00 on average"
        found.append(Purchase(pigment.name, pigment.label, before, after, f"{pigment.label} {nearer}."))
    return sorted(found, key=lambda one: (-np.count_nonzero(one.after <= JUST_SEEN), one.after.mean()))


def _distances(problem: Problem, labs: FloatArray) -> FloatArray:
    nearest = np.array([candidates.loads[0] for candidates in solve_by_eye(problem, labs)[0]])
    return delta_e_2000(labs, problem.lab(nearest))


def _nearest(problem: Problem, target: Shade) -> FloatArray:
    found, _ = solve_by_eye(problem, target.lab[None, :])
    return np.asarray(found[0].loads[0])


def _obstacles(problem: Problem, target: FloatArray, nearest: FloatArray, loads: FloatArray) -> tuple[str, ...]:
    """The cap, where it binds; then the parts of the difference that weigh most."""
    found = []
    cap = float(problem.cap_of(loads > 0))
    if _at_cap(problem, loads):
        at_most = np.flatnonzero((loads > 0) & (problem.own_maximum <= cap + 1e-9))
        tight = [problem.palette.label(problem.names[i]) for i in at_most]
        whose = f" (the own maximum of {', '.join(tight)})" if tight and cap < problem.limits.load_cap else ""
        found.append(f"The nearest recipe stands at the cap of {per_cent(cap)} pigment{whose}.")
    light, chroma, hue = np.abs(difference.parts(target, nearest))
    largest = max(light, chroma, hue)
    wanted, got = lab_to_lch(target), lab_to_lch(nearest)
    if light > 0.5 * largest:
        found.append(_lightness_words(problem, wanted[0], got[0]))
    if chroma > 0.5 * largest:
        word = "stronger" if wanted[1] > got[1] else "more muted"
        numbers = f"chroma {wanted[1]:.0f} is wanted, {got[1]:.0f} comes nearest"
        found.append(f"It is {word} than these jars give: {numbers}.")
    if hue > 0.5 * largest and wanted[1] > GREY:
        turned = np.append(target[0], nearest[1:] * wanted[1] / max(got[1], 1e-9))
        found.append(
            f"No mix of these jars has its hue: as light and as strong, the nearest is {compared(turned, target)} "
            f"(hue {got[2]:.0f}° for {wanted[2]:.0f}°)."
        )
    return tuple(found)


def _lightness_words(problem: Problem, wanted: float, got: float) -> str:
    if wanted < got:
        return f"It is darker than these jars give: L* {wanted:.0f} is wanted, {got:.0f} comes nearest."
    bare = float(problem.lab(problem.fixed[None, :])[0, 0])
    if wanted > bare:
        base = problem.palette.label(problem.base)
        return f"It is lighter than {base} itself: L* {wanted:.0f} is wanted, the cement has {bare:.0f}."
    return f"No mix so light is so strong: L* {wanted:.0f} is wanted, {got:.0f} comes nearest."


def _at_cap(problem: Problem, loads: FloatArray) -> bool:
    return bool(loads.sum() > float(problem.cap_of(loads > 0)) * _AT_LIMIT)


def _remedies(problem: Problem, target: Shade, distance: float, nearest: FloatArray, buying: bool) -> list[Remedy]:
    """Every single change of what stands in the way tried with the solver, those that help, best first."""
    found = []
    for what, changed in _changes(problem, nearest, buying):
        try:
            loads = _nearest(changed, target)
        except ColormatchError:  # the limits do not fit this change: it is no remedy
            continue
        left = float(delta_e_2000(target.lab, changed.lab(loads[None, :])[0]))
        if distance - left < _WORTH:
            continue
        end = "bring it within reach" if left <= JUST_SEEN else f"bring it to {left:.1f} dE00"
        total = f" (with {per_cent(float(loads.sum()), 1)} pigment)" if what.startswith("a cap") else ""
        found.append(Remedy(what, left, f"{capital(what)} would {end}{total}."))
    return sorted(found, key=lambda remedy: remedy.distance)


def _changes(problem: Problem, nearest: FloatArray, buying: bool) -> Iterator[tuple[str, Problem]]:
    """Single changes, by what they are; a limit that the nearest recipe does not reach is left as it is."""
    palette, limits = problem.palette, problem.limits
    for base, record in palette.bases.items():
        if base != problem.base:
            yield f"{record.label.lower()} as the base", replace(problem, base=base)
    if limits.load_cap < ASTM_C979_MAXIMUM and _at_cap(problem, nearest):
        raised = replace(limits, load_cap=ASTM_C979_MAXIMUM)
        yield (
            f"a cap of {per_cent(ASTM_C979_MAXIMUM, 0)} (each pigment's own maximum still holds)",
            replace(problem, limits=raised),
        )
    if limits.max_pigments < MOST_PIGMENTS and np.count_nonzero(nearest) >= limits.max_pigments:
        yield f"up to {MOST_PIGMENTS} pigments", replace(problem, limits=replace(limits, max_pigments=MOST_PIGMENTS))
    used_g = dict(zip(problem.names, nearest * limits.cement_g, strict=True))
    if any(
        grams * _AT_LIMIT <= max(used_g.get(name, 0.0), limits.scale_step_g) for name, grams in limits.stock_g.items()
    ):
        yield "more in stock", replace(problem, limits=replace(limits, stock_g={}))
    for name in palette.pigments:
        if name in limits.never_use or (limits.pigments is not None and name not in limits.pigments):
            yield f"allowing {palette.label(name)}", replace(problem, limits=_allowing(limits, name))
    for pigment in _not_here(palette) if buying else ():
        yield f"buying {pigment.label}", _with_jar(problem, pigment)


def _not_here(palette: Palette, have: Collection[str] = ()) -> list[Pigment]:
    """The starter pigments that a palette lacks."""
    here = {*palette.pigments, *have}
    return [pigment for name, pigment in starter_palette().pigments.items() if name not in here]


def _with_jar(problem: Problem, pigment: Pigment) -> Problem:
    """One starter pigment more, with the starter's curves as they are."""
    details = {f: getattr(pigment, f) for f in ("k_shape", "s_shape", "maximum_load", "label")}
    palette = problem.palette.with_pigment(pigment.name, **details)
    return replace(problem, palette=palette, limits=_allowing(problem.limits, pigment.name))


def _allowing(limits: Limits, name: str) -> Limits:
    allowed = None if limits.pigments is None else (*limits.pigments, name)
    never = tuple(other for other in limits.never_use if other != name)
    return replace(limits, pigments=allowed, never_use=never)
