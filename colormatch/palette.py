"""The palette: bases and pigments with their optical constants, as a mean and a covariance.

Nothing else in the project holds colour knowledge. Recipes, previews, the check at demould and the
advice on the next tile all ask a Palette; learning from tiles returns a new one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike

from . import mixture
from .arrays import FloatArray, finite_array, number_between, read_only
from .errors import LoadError, UnknownNameError
from .frozen import FrozenMapping
from .kubelka_munk import ks_from_reflectance
from .loads import ASTM_C979_MAXIMUM, TINT_LOAD, check_totals, checked_load
from .materials import Base as Base
from .materials import Curves, with_details
from .materials import Pigment as Pigment
from .mixture import Coefficients, Reading
from .naming import look_up, new_name
from .notebook import chip_table
from .parameters import (
    BASE_SIZE,
    BELOW_SD,
    BEYOND_SD,
    LOT_TO_LOT,
    N_KNOTS,
    PIGMENT_SIZE,
    UNKNOWN_BASE,
    UNKNOWN_BASE_K,
    UNKNOWN_LEVEL,
    Layout,
    absorption_basis,
    base_covariance,
    pigment_covariance,
    scattering_basis,
    unknown_covariance,
)
from .science import colour_science
from .shade import Shade
from .spectra import N_BANDS, WAVELENGTHS_NM
from .states import (
    DRY,
    FILM_INDEX,
    SATURATION_RATE,
    STATE_PRIOR_MEAN,
    STATE_PRIOR_SD,
    StateFactors,
    drying_law_covariance,
    drying_share,
    state_kind,
)


@dataclass(frozen=True, eq=False)
class Palette:
    """Bases, pigments and states with the joint posterior of their parameters; immutable.

    mean: (n,), covariance: (n, n) in the order of `layout`. cast_sd: scatter from one cast of the same
    recipe to the next, in CIELAB units per coordinate (0.8 is from memory; learning replaces it).
    pigment_law_sd, base_law_sd: how far the two-constant law misses the strength of a pigment and of the base in a
    recipe nobody cast, as a share; it grows with what they do in the mixture. Learning finds both. surface: share of
    the light that the smooth surface of a dry piece throws back inside (Saunderson's k2); 0: none, as on raw cement.
    cast_from, cast_up_to: the least and the largest load of each pigment in the tiles learned; outside them predictions
    are less certain.
    """

    bases: Mapping[str, Base]
    pigments: Mapping[str, Pigment]
    mean: FloatArray
    covariance: FloatArray
    states: tuple[str, ...] = ("wet", "demould", "sealed")
    cast_sd: float = 0.8
    tiles_learned: int = 0
    pigment_law_sd: float = 0.0
    base_law_sd: float = 0.0
    surface: float = 0.0
    cast_from: Mapping[str, float] = field(default_factory=FrozenMapping)
    cast_up_to: Mapping[str, float] = field(default_factory=FrozenMapping)
    layout: Layout = field(init=False)

    def __post_init__(self) -> None:
        layout = Layout(tuple(self.bases), tuple(self.pigments), self.states)
        n = layout.size
        put = object.__setattr__
        for name in ("bases", "pigments", "cast_from", "cast_up_to"):
            put(self, name, FrozenMapping(getattr(self, name)))
        put(self, "mean", read_only(finite_array(self.mean, name="The palette's mean", shape=(n,))))
        put(self, "covariance", read_only(finite_array(self.covariance, name="The palette's covariance", shape=(n, n))))
        put(self, "layout", layout)

    def __repr__(self) -> str:
        learned = f"learned from {self.tiles_learned} tiles" if self.tiles_learned else "nothing learned yet"
        return f"Palette({', '.join(self.bases)}; {', '.join(self.pigments)}; {learned})"

    def _repr_html_(self) -> str:
        base, tint = next(iter(self.bases)), TINT_LOAD
        rows = ((self.predict({name: tint}, base), name) for name in self.pigments)
        words = ((shade.lab, f"{name}, sd {shade.sd:.1f}") for shade, name in rows)
        return chip_table(f"{tint:.0%} in {base}, dry", words)

    # -- optical constants ---------------------------------------------------------------------

    def coefficients(self, base: str, state: str = "dry") -> Coefficients:
        """The mean optical constants of one base with all pigments, in one state."""
        return coefficients_at(self, self.mean, base, state)

    def state_factors(self, state: str) -> StateFactors:
        """The mean pore factors and cover of a state."""
        return _factors_at(self, self.mean, state)

    def load_vector(self, loads: Mapping[str, float]) -> FloatArray:
        """(n_pigments,) loads in the palette's order; raises UnknownNameError or LoadError."""
        if not isinstance(loads, Mapping):
            raise LoadError(f'Loads are given by name, such as {{"red-iron-oxide": 0.02}}; got {loads!r}.')
        vector, names = np.zeros(len(self.pigments)), list(self.pigments)
        for name, load in loads.items():
            look_up(self.pigments, name, "pigment")
            vector[names.index(name)] = checked_load(name, load)
        check_totals(vector[None, :])
        return vector

    # -- predictions ---------------------------------------------------------------------------

    def reflectance(self, loads: Mapping[str, float], base: str, state: str = "dry") -> FloatArray:
        """Reflectance factors (31,) of a mixture; loads in g per g of dry cement, total at most 0.10."""
        return mixture.reflectance(self.coefficients(base, state), self.load_vector(loads))

    def spectrum(self, loads: Mapping[str, float], base: str, state: str = "dry") -> Any:
        """`reflectance` as a SpectralDistribution of colour-science, named after the mixture."""
        values = self.reflectance(loads, base, state)
        name = " + ".join([base, *(f"{load:.2%} {pigment}" for pigment, load in loads.items())]) + f", {state}"
        return colour_science().SpectralDistribution(values, WAVELENGTHS_NM, name=name)

    def predict(self, loads: Mapping[str, float], base: str, state: str = "dry") -> Shade:
        """The shade of a piece cast from `loads`, with the uncertainty of the model and of the casting."""
        lab, covariance = self.predict_with_covariance(self.load_vector(loads)[None, :], base=base, state=state)
        return Shade(lab[0], covariance=covariance[0])

    def predict_many(self, loads: ArrayLike, *, base: str, state: str = "dry") -> FloatArray:
        """CIELAB (n, 3) of many mixtures, loads (n, n_pigments) in the order of `pigments`."""
        return mixture.lab(self.coefficients(base, state), self.check_loads(loads))

    def predict_with_covariance(
        self, loads: ArrayLike, *, base: str, state: str = "dry", casting: bool = True
    ) -> tuple[FloatArray, FloatArray]:
        """CIELAB (n, 3) and covariance (n, 3, 3) of many mixtures; casting=False leaves out cast_sd."""
        lab, slopes = self.parameter_slopes(loads, base=base, state=state)
        covariance = slopes @ self.predictive_covariance @ slopes.transpose(0, 2, 1)
        if casting:
            covariance = covariance + self.cast_sd**2 * np.eye(3)
        outside = self._outside_cast_sd(np.asarray(loads, dtype=np.float64))
        if outside.any():
            own = slopes[:, :, self.layout.all_pigments].reshape(len(lab), 3, -1, PIGMENT_SIZE).sum(axis=-1)
            own *= outside[:, None, :]
            covariance = covariance + own @ own.transpose(0, 2, 1)
        return lab, covariance

    def _outside_cast_sd(self, loads: FloatArray) -> FloatArray:
        """(n, n_pigments) how unsure the logarithm of each strength is for lying above or below what was cast."""
        least, most = self._cast
        above = BEYOND_SD * np.log(np.maximum(loads / most, 1.0))
        return np.asarray(above + BELOW_SD * np.where(loads > 0, np.maximum(least - loads, 0.0), 0.0))

    @cached_property
    def _cast(self) -> tuple[FloatArray, FloatArray]:
        """Least and largest load cast of each pigment; anything where none was."""
        names = list(self.pigments)
        least = np.array([self.cast_from.get(name, 0.0) for name in names])
        return least, np.array([self.cast_up_to.get(name, np.inf) for name in names])

    def parameter_slopes(self, loads: ArrayLike, *, base: str, state: str = "dry") -> tuple[FloatArray, FloatArray]:
        """CIELAB (n, 3) and its derivatives (n, 3, n_parameters) at the posterior mean."""
        return parameter_slopes_at(self, self.mean, self.check_loads(loads), base, state)

    def predict_drying(
        self, loads: Mapping[str, float], base: str, saturation: float, rate: float = SATURATION_RATE
    ) -> Shade:
        """The shade on the way from demould (saturation 1) to dry (0); see `states.drying_share`.

        The covariance is that of the two ends, weighted alike, and `drying_law_covariance` between them.
        """
        share = float(drying_share(saturation, rate))
        start, end = self.predict(loads, base, "demould"), self.predict(loads, base, "dry")
        law = drying_law_covariance(share, end.lab - start.lab)
        covariance = (1 - share) * start.covariance + share * end.covariance + law
        return Shade((1 - share) * start.lab + share * end.lab, covariance=covariance)

    @cached_property
    def predictive_covariance(self) -> FloatArray:
        """(n, n) of the parameters in a recipe nobody cast: their covariance, and what the law misses there."""
        law = np.zeros_like(self.covariance)
        for name in self.bases:
            law[self.layout.base(name), self.layout.base(name)][N_KNOTS, N_KNOTS] = self.base_law_sd**2
        for name in self.pigments:
            law[self.layout.pigment(name), self.layout.pigment(name)] = self.pigment_law_sd**2
        return read_only(self.covariance + law)

    @property
    def unknown(self) -> tuple[str, ...]:
        """Pigments of which nothing is known."""
        return tuple(name for name, pigment in self.pigments.items() if not pigment.known)

    def check_loads(self, loads: ArrayLike) -> FloatArray:
        """`loads` as (n, n_pigments); raises InputError or LoadError."""
        array = finite_array(loads, name="The loads", shape=(None, len(self.pigments)))
        if array.size and array.min() < 0:
            raise LoadError(f"A load of {array.min():g} is negative; loads run from 0 to {ASTM_C979_MAXIMUM:g}.")
        check_totals(array)
        return array

    def curves(self, name: str) -> Curves:
        """K and S with their sd on the 31 bands, of a pigment (per g per g of cement) or a base; UnknownNameError."""
        at_base = name in self.bases
        look_up(self.bases if at_base else self.pigments, name, "pigment or base")
        c = self.coefficients(name if at_base else next(iter(self.bases)))
        if at_base:
            k, s, own = c.base_k, c.base_s, self.layout.base(name)
            to_s = np.ones((N_BANDS, 1))
        else:
            place = list(self.pigments).index(name)
            k, s, own, to_s = c.pigment_k[place], c.pigment_s[place], self.layout.pigment(name), scattering_basis()
        covariance = self.covariance[own, own]
        k_sd, s_sd = (
            np.sqrt(np.maximum(np.einsum("li,ij,lj->l", basis, part, basis), 0.0))
            for basis, part in (
                (absorption_basis(), covariance[:N_KNOTS, :N_KNOTS]),
                (to_s, covariance[N_KNOTS:, N_KNOTS:]),
            )
        )
        return Curves(WAVELENGTHS_NM, k, s, k * k_sd, s * s_sd)

    def label(self, name: str) -> str:
        """What the maker calls a cement or pigment, for sentences; any other name as it stands."""
        record = self.pigments.get(name) or self.bases.get(name)
        return name if record is None else record.label

    # -- growing -------------------------------------------------------------------------------

    def with_posterior(
        self, mean: ArrayLike, covariance: ArrayLike, *, tiles_learned: int = 0, **found: Any
    ) -> Palette:
        """The same names with other parameters; what learning returns. found: further fields, such as cast_sd."""
        return replace(
            self,
            mean=np.asarray(mean, dtype=np.float64),
            covariance=np.asarray(covariance, dtype=np.float64),
            tiles_learned=self.tiles_learned + tiles_learned,
            **found,
        )

    def with_surface(self, surface: float) -> Palette:
        """The same bases, looking as they did, if dry pieces had a surface that throws back this share of the light."""
        surface = number_between(surface, name="surface", low=0, high=0.9)
        found = replace(self, surface=surface)
        bases = dict(self.bases)
        for name, base in bases.items():
            gain, inner = found.state_factors("dry").film if surface else (1.0, 0.0)
            seen = self.reflectance({}, name)
            bare = np.clip(seen / (gain + inner * seen), 1e-4, 0.9999)
            now = self.coefficients(name)
            bases[name] = replace(base, k_shape=base.k_shape * ks_from_reflectance(bare) * now.base_s / now.base_k)
        return replace(found, bases=bases)

    def with_pigment(self, name: str, like: str | None = None, **details: Any) -> Palette:
        """A palette with one more pigment. like=None: unknown, with a wide prior; like="red-iron-oxide":
        that one's curves as they are known now, widened as for a new lot.

        details: further fields of `Pigment` (label, price_per_kg, maximum_load, ...).
        Raises InputError when the name is taken, UnknownNameError when `like` is unknown.
        """
        new_name(name, self.pigments, "pigment")
        if like is None:
            flat = _flat(self, "k_shape"), _flat(self, "s_shape")
            record = Pigment(name, name, *flat, source="unknown, wide prior", known=False)
            prior, _ = unknown_covariance()
        else:
            record = replace(look_up(self.pigments, like, "pigment"), name=name, label=name)
            prior = pigment_covariance(LOT_TO_LOT, LOT_TO_LOT)
        pigments = {**self.pigments, name: with_details(record, details)}
        return self._grown("pigment", name, like, prior, pigments=pigments)

    def with_base(self, name: str, like: str | None = "white-cement", **details: Any) -> Palette:
        """A palette with one more cement (or a new bag of one), starting from another's curve, widened.

        like=None: any cement, from white to dark grey; a blank and a ladder or two tell.
        Raises InputError when the name is taken, UnknownNameError when `like` is unknown.
        """
        new_name(name, self.bases, "base")
        if like is None:
            level = np.exp(np.mean([np.log(base.k_shape) for base in self.bases.values()] or [np.log(UNKNOWN_BASE_K)]))
            record = Base(name, name, np.full(N_BANDS, level), source="unknown, wide prior")
            prior = base_covariance(UNKNOWN_BASE, scatter_sd=0.5)
        else:
            record = replace(look_up(self.bases, like, "base"), name=name, label=name)
            prior = base_covariance(LOT_TO_LOT, scatter_sd=0.1)
        return self._grown("base", name, like, prior, bases={**self.bases, name: with_details(record, details)})

    def with_sealer(self, name: str) -> Palette:
        """A palette with one more sealer; its state is `"sealed:<name>"`, prior as `sealed`."""
        state = f"sealed:{new_name(name, (), 'sealer')}"
        new_name(state, self.states, "state")
        prior = np.diag(STATE_PRIOR_SD["sealed"] ** 2)
        return self._grown("state", state, None, prior, STATE_PRIOR_MEAN["sealed"], states=(*self.states, state))

    def _grown(
        self,
        part: Literal["base", "pigment", "state"],
        name: str,
        like: str | None,
        widening: FloatArray,
        mean: FloatArray | float = 0.0,
        **changes: Any,
    ) -> Palette:
        """One more base, pigment or state: the parameters of the one it is like, or `mean`, widened on their own."""
        names = {"bases": self.bases, "pigments": self.pigments, "states": self.states, **changes}
        grown, nowhere = Layout(*map(tuple, names.values())), self.layout.size
        here, shared = getattr(grown, part)(name), grown.shared_with(self.layout)
        if like is not None:
            shared.append((here, getattr(self.layout, part)(like)))
        origin = np.full(grown.size, nowhere)  # of each new parameter, the old one it starts from
        for new, old in shared:
            origin[new] = np.arange(nowhere)[old]
        parameters, covariance = np.append(self.mean, 0.0)[origin], np.pad(self.covariance, (0, 1))
        covariance = covariance[np.ix_(origin, origin)]
        parameters[here] += mean
        covariance[here, here] += widening
        return replace(self, mean=parameters, covariance=covariance, **changes)


def coefficients_at(palette: Palette, parameters: FloatArray, base: str, state: str) -> Coefficients:
    """Optical constants at any parameter vector (n_parameters,), not only at the mean."""
    record, layout = look_up(palette.bases, base, "base"), palette.layout
    factors = _factors_at(palette, parameters, state)
    own = parameters[layout.base(base)]
    per_pigment = parameters[layout.all_pigments].reshape(-1, PIGMENT_SIZE)
    k_shapes = np.array([p.k_shape for p in palette.pigments.values()]).reshape(-1, 31)
    s_shapes = np.array([p.s_shape for p in palette.pigments.values()]).reshape(-1, 31)
    return Coefficients(
        base_k=record.k_shape * np.exp(absorption_basis() @ own[:N_KNOTS]),
        base_s=np.full(31, record.scatter_shape * np.exp(own[N_KNOTS])),
        pigment_k=k_shapes * np.exp(per_pigment[:, :N_KNOTS] @ absorption_basis().T),
        pigment_s=s_shapes * np.exp(per_pigment[:, N_KNOTS:] @ scattering_basis().T),
        factors=factors,
    )


def parameter_slopes_at(
    palette: Palette,
    parameters: FloatArray,
    loads: FloatArray,
    base: str,
    state: str,
    reading: Reading = mixture.as_lab,
) -> tuple[FloatArray, FloatArray]:
    """Readings (m, r) and derivatives (m, r, n_parameters) of loads (m, n_pigments) at any parameters.

    reading: CIELAB, r = 3, unless another function of the reflectance is given.
    """
    coefficients = coefficients_at(palette, parameters, base, state)
    values, parts = mixture.read_and_curve_slopes(coefficients, loads, absorption_basis(), scattering_basis(), reading)
    layout = palette.layout
    slopes = np.zeros((*values.shape, layout.size))
    own = slopes[:, :, layout.base(base)]
    own[:, :, :N_KNOTS], own[:, :, BASE_SIZE - 1] = parts.base_k, parts.base_s
    pigments = slopes[:, :, layout.all_pigments].reshape(*values.shape, -1, PIGMENT_SIZE)  # a view
    pigments[..., :N_KNOTS], pigments[..., N_KNOTS:] = parts.pigment_k, parts.pigment_s
    if state != "dry":
        stacked = [parts.pore_base, parts.pore_pigment, parts.cover]
        slopes[:, :, layout.state(state)] = np.stack(stacked, axis=-1)
    return values, slopes


def _factors_at(palette: Palette, parameters: FloatArray, state: str) -> StateFactors:
    if state == "dry":
        return replace(DRY, cover=1.0, inner=palette.surface) if palette.surface else DRY
    kind = state_kind(state)
    if state not in palette.states:
        raise UnknownNameError("state", state, ("dry", *palette.states))
    log_base, log_pigment, logit_cover = parameters[palette.layout.state(state)]
    return StateFactors(
        pore_base=float(np.exp(log_base)),
        pore_pigment=float(np.exp(log_pigment)),
        cover=float(1 / (1 + np.exp(-logit_cover))),
        index=FILM_INDEX[kind],
    )


def _flat(palette: Palette, curve: str) -> FloatArray:
    """A flat curve at the geometric mean of the palette's pigments: where an unknown one starts."""
    curves = np.array([getattr(pigment, curve) for pigment in palette.pigments.values()])
    level = np.exp(np.log(curves).mean()) if curves.size else UNKNOWN_LEVEL
    return np.full(N_BANDS, level)
