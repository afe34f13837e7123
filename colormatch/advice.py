"""What to cast next: the few tiles after which the shades in demand are predicted best.

Every candidate tile is tried on the covariance: what would be left of the uncertainty of the shades in demand
if it were cast and photographed. The best is taken as cast, and the next one is looked for.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from .arrays import FloatArray, number_between, whole_number_between
from .difference import delta_e_2000, expected_delta_e, metric
from .errors import InputError
from .learning import describe, random_recipes, recipes_near
from .loads import ASTM_C979_MAXIMUM, STUDIO_CAP, TINT_LADDER, TINT_LOAD
from .naming import look_up
from .palette import Palette
from .shade import PHOTO_SD, Shade

STARTER_LADDER = (0.005, 0.02, 0.05)  # the pilot's: fewer steps hide the curve, more add little
MIXTURE_SD = 5.0  # CIELAB; a mixture predicted worse than that is not advised
_WAYS_PER_SHADE = 6  # recipes thought of for a shade in demand, of different jars; a judgement
_GENERAL_DEMAND, _SEED = 120, 3  # shades that stand for "anything"; a judgement between time and evenness
_WEIGHABLE = 0.0005  # g/g, the step of an advised load: 0.4 g in a small batch
_MOST_PHOTO_SD = 20.0  # worse is no measurement; a judgement
_WORTH = 0.05  # CIEDE2000 off the expected error; less does not show in its first decimal, nor to any eye
_AGAIN = "The same tile once more: casts of one recipe differ, and this one counts most."


@dataclass(frozen=True, slots=True)
class Advice:
    """One tile worth casting.

    loads, base, state: the tile. before, after: mean expected CIEDE2000 over the shades in demand, without
    and with this tile and those advised before it. kind: "blank", "ladder", "tint" or "mixture". reason: what the
    tile is for, a sentence.
    """

    loads: Mapping[str, float]
    base: str
    state: str
    before: float
    after: float
    kind: str
    reason: str

    @property
    def title(self) -> str:
        """The tile in words."""
        return describe(self.loads, self.base, self.state)

    @property
    def worth_casting(self) -> bool:
        """Whether it takes at least 0.05 dE00 off what is expected: where it does not, recipes are as good without."""
        return self.before - self.after >= _WORTH

    @property
    def why(self) -> str:
        """What the tile is for, and what it brings."""
        before, after = f"{self.before:.1f}", f"{self.after:.1f} dE00"
        if not self.worth_casting:
            return f"{self.reason} Not worth casting: {before} dE00 are expected over the shades in demand anyway."
        return f"{self.reason} Expected error over the shades in demand: {before} before, {after} after."


def next_tiles(
    palette: Palette,
    shades: Sequence[Shade] = (),
    count: int = 3,
    *,
    base: str | None = None,
    state: str = "dry",
    load_cap: float = STUDIO_CAP,
    pigments: Sequence[str] | None = None,
    photo_sd: float = PHOTO_SD,
) -> list[Advice]:
    """The `count` tiles that together most lower the expected error over the shades in demand.

    About five bring most (tests/benchmarks/test_beginner.py); then recipes teach as much. Past the first tile that is
    not `worth_casting`, none is. `CastList.of` turns them into grams.
    shades: what the maker wants to cast; none: any mixture up to load_cap. base: None takes the first.
    pigments: those at hand; None: all. photo_sd: of one photograph, CIELAB units per coordinate.
    Raises InputError or UnknownNameError.
    """
    base = _checked_base(palette, base, photo_sd)
    if isinstance(shades, str) or not isinstance(shades, Iterable) or not all(isinstance(s, Shade) for s in shades):
        raise InputError(f"The shades in demand must be a list of Shade; got {shades!r:.60}.")
    count = whole_number_between(count, name="The number of tiles", low=1)
    load_cap = number_between(load_cap, name="load_cap", low=0, high=ASTM_C979_MAXIMUM, unit="g/g", open_low=True)
    names = _at_hand(palette, pigments)
    demand = _demand(palette, shades, names, base, state, load_cap)
    known = _roughly_known(palette, demand, base, state)
    tiles = _candidates(palette, demand[known], names, load_cap)
    board = _Board(palette, demand, tiles, base, state, photo_sd)
    return [board.advise(board.best()) for _ in range(min(count, len(tiles)))]


def expected_off(
    palette: Palette, shades: Sequence[Shade], *, base: str | None = None, load_cap: float = STUDIO_CAP
) -> float:
    """Mean expected CIEDE2000 of recipes for the shades, casting left out: what `next_tiles` lowers."""
    base = _checked_base(palette, base)
    demand = _demand(palette, shades, list(palette.pigments), base, "dry", load_cap)
    lab, covariance = palette.predict_with_covariance(demand, base=base, casting=False)
    return float(expected_delta_e(lab, lab, covariance).mean())


def starter_plan(
    palette: Palette, pigment: str, *, base: str | None = None, photo_sd: float = PHOTO_SD
) -> list[Advice]:
    """The first tiles of a new pigment: blank, 0.5, 2 and 5 % of it, and a tint with white; why each.

    The pigment must be in the palette (`palette.with_pigment`). A pigment whose own maximum is lower gets its
    ladder up to that. before, after: expected CIEDE2000 over mixtures with this pigment, as far as it comes from
    this pigment and the base.
    """
    base = _checked_base(palette, base, photo_sd)
    look_up(palette.pigments, pigment, "pigment")
    place, white = list(palette.pigments).index(pigment), _white(palette)
    most = min(STARTER_LADDER[-1], palette.pigments[pigment].maximum_load)
    tiles = [("blank", np.zeros(len(palette.pigments)))]
    tiles += [("ladder", _single(palette, place, load * (most / STARTER_LADDER[-1]))) for load in STARTER_LADDER]
    if white is not None and white != place:
        load = min(TINT_LOAD, most / 2)
        tiles.append(("tint", _single(palette, place, load) + _single(palette, white, load)))
    # Drawn until enough of them hold a tenth of the pigment: one in forty does among many jars; a judgement.
    demand = random_recipes(palette, 40 * _GENERAL_DEMAND, cap=most, seed=_SEED)
    demand = demand[demand[:, place] > 0.1 * demand.sum(axis=1)][:_GENERAL_DEMAND]
    board = _Board(_alone_in_doubt(palette, pigment, base), demand, tiles, base, "dry", photo_sd)
    return [board.advise(place) for place in range(len(tiles))]


def _checked_base(palette: Palette, base: str | None, photo_sd: float = PHOTO_SD) -> str:
    """The base asked for, or the first; what else every advice is given is checked too."""
    if not isinstance(palette, Palette):
        raise InputError(f"Tiles are advised for a Palette, such as starter_palette(); got {type(palette).__name__}.")
    if not palette.bases:
        raise InputError("The palette has no cement; add one.")
    number_between(photo_sd, name="photo_sd", low=0, high=_MOST_PHOTO_SD, unit="CIELAB units")
    base = next(iter(palette.bases)) if base is None else base
    look_up(palette.bases, base, "base")
    return base


def _alone_in_doubt(palette: Palette, pigment: str, base: str) -> Palette:
    """The palette with everything but one pigment and one base taken as known."""
    own = np.zeros(palette.layout.size, dtype=bool)
    own[palette.layout.pigment(pigment)] = own[palette.layout.base(base)] = True
    return palette.with_posterior(palette.mean, palette.covariance * np.outer(own, own))


class _Board:
    """Demanded mixtures and candidate tiles in one joint Gaussian of their CIELAB values."""

    def __init__(
        self,
        palette: Palette,
        demand: FloatArray,
        tiles: Sequence[tuple[str, FloatArray]],
        base: str,
        state: str,
        photo_sd: float,
    ) -> None:
        self._palette, self._kinds, self._base, self._state = palette, tiles, base, state
        rows = np.concatenate([demand, [loads for _, loads in tiles]])
        lab, slopes = palette.parameter_slopes(rows, base=base, state=state)
        flat = slopes.reshape(-1, slopes.shape[-1])
        self._joint = flat @ palette.covariance @ flat.T
        self._lab, self._demand = lab[: len(demand)], len(demand)
        self._noise = (photo_sd**2 + palette.cast_sd**2) * np.eye(3)
        self._metric = metric(self._lab)
        self._advised: set[int] = set()
        self._off = self._expected()

    def _expected(self) -> float:
        """Mean expected CIEDE2000 over the demand, casting left out."""
        return float(expected_delta_e(self._lab, self._lab, self._own()[: self._demand]).mean())

    def best(self) -> int:
        """The candidate after which the root mean square error, averaged over the demand, is smallest."""
        across = self._blocks()[: self._demand, :, self._demand :].transpose(2, 0, 1, 3)  # (tiles, demand, 3, 3)
        weight = np.linalg.inv(self._own()[self._demand :] + self._noise)[:, None]
        left = self._own()[: self._demand] - across @ weight @ across.swapaxes(2, 3)
        square = np.einsum("dij,tdji->td", self._metric, left)
        return int(np.sqrt(np.maximum(square, 0.0)).mean(axis=1).argmin())

    def advise(self, place: int) -> Advice:
        """One tile and what it brings; from here on it counts as cast and measured."""
        before, at = self._off, 3 * (self._demand + place)
        rows = slice(at, at + 3)
        across = self._joint[:, rows]
        self._joint = self._joint - across @ np.linalg.solve(self._joint[rows, rows] + self._noise, across.T)
        self._off, (kind, vector) = self._expected(), self._kinds[place]
        loads = {name: float(load) for name, load in zip(self._palette.pigments, vector, strict=True) if load > 0}
        reason = _reason(self._palette, kind, loads) if place not in self._advised else _AGAIN
        self._advised.add(place)
        return Advice(loads, self._base, self._state, before, self._off, kind, reason)

    def _own(self) -> FloatArray:
        """(mixtures, 3, 3) covariances of each in demand, then of each candidate."""
        at = np.arange(len(self._joint) // 3)
        return np.asarray(self._blocks()[at, :, at, :], dtype=np.float64)

    def _blocks(self) -> FloatArray:
        size = len(self._joint) // 3
        return self._joint.reshape(size, 3, size, 3)


def _at_hand(palette: Palette, pigments: Sequence[str] | None) -> list[str]:
    if isinstance(pigments, str) or not isinstance(pigments, Iterable | None):
        raise InputError(f"The pigments at hand must be a list of names; got {pigments!r:.60}.")
    for name in pigments or ():
        look_up(palette.pigments, name, "pigment")
    return list(palette.pigments if pigments is None else dict.fromkeys(pigments))


def _demand(
    palette: Palette, shades: Sequence[Shade], names: Sequence[str], base: str, state: str, cap: float
) -> FloatArray:
    """Mixtures near the shades, several ways to each; without shades, mixtures of all sorts."""
    if not shades:
        return random_recipes(palette, _GENERAL_DEMAND, cap=cap, seed=_SEED, pigments=names)
    out = []
    for shade in shades:
        near = recipes_near(palette, shade.lab, base=base, state=state, cap=cap, pigments=names)
        off = delta_e_2000(palette.predict_many(near, base=base, state=state), shade.lab)
        out.append(_different(near[np.argsort(off)]))
    return np.concatenate(out)


def _roughly_known(palette: Palette, loads: FloatArray, base: str, state: str) -> FloatArray:
    """(n,) whether a mixture is predicted well enough to learn from it; else one reading has to serve too many."""
    _, covariance = palette.predict_with_covariance(loads, base=base, state=state, casting=False)
    return np.asarray(np.trace(covariance, axis1=1, axis2=2) < 3 * MIXTURE_SD**2)


def _different(loads: FloatArray) -> FloatArray:
    """The first few rows, no two of the same pigments."""
    firsts = dict[tuple[int, ...], int]()
    for at, row in enumerate(loads):
        firsts.setdefault(tuple(np.flatnonzero(row > 1e-4)), at)  # a load that no scale of a studio shows is none
    return np.asarray(loads[list(firsts.values())[:_WAYS_PER_SHADE]])


def _candidates(palette: Palette, demand: FloatArray, names: Sequence[str], cap: float) -> list[tuple[str, FloatArray]]:
    n, white = len(palette.pigments), _white(palette)
    places = [list(palette.pigments).index(name) for name in names]
    limits = [pigment.maximum_load for pigment in palette.pigments.values()]
    tiles = [("blank", np.zeros(n))]
    for place in places:
        tiles += [("ladder", _single(palette, place, x)) for x in TINT_LADDER if x <= min(cap, limits[place])]
        if white in places and white is not None and white != place:
            load = min(TINT_LOAD, cap / 2, limits[place] / 2)
            tiles.append(("tint", _single(palette, place, load) + _single(palette, white, load)))
    weighable = np.round(demand / _WEIGHABLE) * _WEIGHABLE
    tiles += [("mixture", row) for row in weighable if np.count_nonzero(row) > 1 and row.sum() <= cap]
    return tiles


def _single(palette: Palette, place: int, load: float) -> FloatArray:
    vector = np.zeros(len(palette.pigments))
    vector[place] = load
    return vector


def _white(palette: Palette) -> int | None:
    """The pigment that scatters most for what it absorbs, if it scatters clearly more."""
    if not palette.pigments:
        return None
    c = palette.coefficients(next(iter(palette.bases)))
    ratio = np.log(c.pigment_s / c.pigment_k).mean(axis=1)
    best = int(np.argmax(ratio))
    return best if ratio[best] > 0 else None


def _reason(palette: Palette, kind: str, loads: Mapping[str, float]) -> str:
    labels = [palette.label(name) for name in loads]
    names, first = " and ".join(labels), "".join(labels[:1])
    return {
        "blank": "Every shade rests on the colour of the bare cement.",
        "ladder": f"It fixes how strongly {first} colours at this load.",
        "tint": f"{names} in one tile show how much light the pigment scatters; a ladder up to 5 % barely tells.",
        "mixture": f"It lies close to a shade in demand and tests {names} together.",
    }[kind]
