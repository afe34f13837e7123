"""A test tile: what was weighed, and what the photograph (or a spectrophotometer) says came out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import FloatArray, finite_array, number_between, read_only
from ..colorimetry import lab_jacobian, reflectance_to_lab, weights, xyz_to_lab
from ..difference import delta_e_2000
from ..errors import ColormatchError, InputError, LoadError
from ..frozen import FrozenMapping
from ..loads import ASTM_C979_MAXIMUM, check_totals, checked_load
from ..shade import PHOTO_SD, Shade
from ..spectra import N_BANDS, check_reflectance, to_grid
from ..states import state_kind

_NEEDED = ("base", "L", "a", "b")
_TEXTS = ("state", "name", "piece")
_NUMBERS = ("sd", "load_sd", "saturation")
_CONTRADICTION = 10.0  # dE00 between a spectrum and a photograph of one piece; far beyond a careless photograph


@dataclass(frozen=True, slots=True, eq=False)
class Tile:
    """One cast piece with its measured shade: a swatch, or a finished batch.

    base, loads, state: as in `Palette.predict`; loads in g pigment per g dry cement, total at most 0.10.
    shade: the measured shade with the photograph's own uncertainty. spectrum: (31,) measured reflectance factors,
    400..700 nm by 10, used in place of the shade when given, with spectrum_sd per band.
    load_sd: standard deviation of the weighed loads (g/g), one for all or one for each by name. saturation: of a piece
    on its way from wet or demould (1) to dry (0); None: fully in its state. name: how reports call it. piece: which
    cast piece this is, so that its dry, wet and sealed shades are known to be of one casting; "": a piece of its own.
    Raises InputError, LoadError or UnknownNameError.
    """

    base: str
    loads: Mapping[str, float]
    shade: Shade
    state: str = "dry"
    name: str | None = None
    spectrum: FloatArray | None = None
    spectrum_sd: float = 0.01
    load_sd: float | Mapping[str, float] = 0.0
    saturation: float | None = None
    piece: str = ""
    recipe: tuple[str, str, tuple[tuple[str, float], ...], float | None] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        put = object.__setattr__
        if not isinstance(self.base, str) or not self.base.strip():
            raise InputError(f"A tile's base must be the name of a base, such as 'white-cement'; got {self.base!r}.")
        if not isinstance(self.name, str | None):
            raise InputError(f"A tile's name must be words, or None for none; got {self.name!r}.")
        if not isinstance(self.piece, str):
            raise InputError(f"A tile's piece must be words that tell it from other pieces; got {self.piece!r}.")
        put(self, "loads", FrozenMapping(_checked_loads(self.loads)))
        kind = state_kind(self.state)
        if not isinstance(self.shade, Shade):
            raise InputError(f"A tile's shade must be a Shade, not {type(self.shade).__name__}.")
        if self.spectrum is not None:
            spectrum = check_reflectance(self.spectrum, name="A tile's spectrum")
            put(self, "spectrum", read_only(finite_array(spectrum, name="A tile's spectrum", shape=(N_BANDS,))))
            off = float(delta_e_2000(reflectance_to_lab(self.spectrum), self.shade.lab))
            if off > _CONTRADICTION:
                raise InputError(
                    f"The tile's spectrum is {off:.0f} dE00 from its shade; both must be of the same piece "
                    f"(at most {_CONTRADICTION:g}). Use Tile.from_spectrum, which takes the shade from the spectrum."
                )
        for name in ("spectrum_sd", "load_sd", "saturation"):
            if isinstance(getattr(self, name), bool | np.bool_):
                raise InputError(f"{name} must be a number, but got {getattr(self, name)}.")
        _checked_spectrum_sd(self.spectrum_sd)
        for sd in self.load_sd.values() if isinstance(self.load_sd, Mapping) else [self.load_sd]:
            number_between(sd, name="load_sd", low=0, high=ASTM_C979_MAXIMUM, unit="g/g")
        if self.saturation is not None:
            number_between(self.saturation, name="The degree of saturation", low=0, high=1)
            if kind not in ("wet", "demould"):
                raise InputError(
                    f"A tile in the state {self.state!r} has no degree of saturation; it belongs to a piece "
                    "drying from wet or demould."
                )
            if self.spectrum is not None:
                raise InputError("A partly dry piece is learned from its shade; give this tile no spectrum.")
        weighed = tuple(sorted((name, load) for name, load in self.loads.items() if load > 0))
        put(self, "recipe", (self.base, self.state, weighed, self.saturation))

    @classmethod
    def from_spectrum(
        cls,
        base: str,
        loads: Mapping[str, float],
        wavelength_nm: ArrayLike,
        reflectance: ArrayLike | None = None,
        *,
        spectrum_sd: float = 0.01,
        **details: Any,
    ) -> Tile:
        """A tile measured by a spectrophotometer: reflectance factors (n,) at wavelength_nm (n,), any step.

        Or a SpectralDistribution of colour-science in place of both.
        details: further fields of `Tile`. Raises InputError when 400..700 nm is not covered.
        """
        _checked_spectrum_sd(spectrum_sd)
        spectrum = check_reflectance(wavelength_nm if reflectance is None else to_grid(wavelength_nm, reflectance))
        xyz = spectrum @ weights("D65")
        per_band = lab_jacobian(xyz) @ weights("D65").T
        shade = Shade(xyz_to_lab(xyz), covariance=spectrum_sd**2 * per_band @ per_band.T)
        return cls(base, loads, shade, spectrum=spectrum, spectrum_sd=spectrum_sd, **details)

    @classmethod
    def from_table(cls, table: Mapping[str, Iterable[Any]] | Any) -> list[Tile]:
        """Tiles from columns: a mapping of equally long columns, or a pandas DataFrame.

        base, L, a, b: the cement and the measured CIELAB. state, name, piece, sd, load_sd, saturation: as in `Tile`,
        may be left out; sd defaults to 0.7. Any other column is a pigment with its load in g per g of dry cement; an
        empty cell is 0. Raises InputError naming the row, counted from 1.
        """
        try:
            columns = {str(name).strip(): list(table[name]) for name in table}
        except (TypeError, KeyError):
            raise InputError(
                f"Tiles are read from a table, a list for each column; got a {type(table).__name__} that is none."
            ) from None
        if missing := [name for name in _NEEDED if name not in columns]:
            raise InputError(f"The table has no column {missing[0]!r}; it needs {', '.join(_NEEDED)}.")
        lengths = {name: len(column) for name, column in columns.items()}
        if len(set(lengths.values())) > 1:
            raise InputError(f"The table's columns are not equally long: {lengths}.")
        rows = [dict(zip(columns, cells, strict=True)) for cells in zip(*columns.values(), strict=True)]
        return [_of_row(row, number) for number, row in enumerate(rows, start=1)]

    @property
    def title(self) -> str:
        """The name, or what was cast, in words."""
        return self.name or describe(self.loads, self.base, self.state)


def describe(loads: Mapping[str, float], base: str, state: str = "dry", label: Callable[[str], str] = str) -> str:
    """A mixture in words, as in "2 % red-iron-oxide on white-cement, wet"; label: `Palette.label` for the maker."""
    parts = [f"{100 * load:.3g} % {label(name)}" for name, load in loads.items() if load > 0]
    return f"{' + '.join(parts) or 'blank'} on {label(base)}" + ("" if state == "dry" else f", {state}")


def _checked_spectrum_sd(value: float) -> float:
    return number_between(value, name="spectrum_sd", low=0, high=0.5, open_low=True)


def _checked_loads(loads: Mapping[str, float]) -> dict[str, float]:
    if not isinstance(loads, Mapping):
        raise LoadError(f"A tile's loads must map pigment names to loads, not {type(loads).__name__}.")
    for name in loads:
        if not isinstance(name, str) or not name.strip():
            raise LoadError(f"A tile's loads are given by the pigments' names; {name!r} is no name.")
    checked = {name: checked_load(name, load) for name, load in loads.items()}
    check_totals(np.array([*checked.values()]))
    return checked


def _of_row(row: Mapping[str, Any], number: int) -> Tile:
    try:
        if missing := [name for name in _NEEDED if _empty(row[name])]:
            raise InputError(f"{missing[0]} is empty.")
        given: dict[str, Any] = {
            name: typed_number(row[name], name) for name in ("L", "a", "b", *_NUMBERS) if not _empty(row.get(name))
        }
        lab = tuple(given.pop(name) for name in "Lab")
        if given.get("sd") == 0:
            raise InputError(f"sd is 0, but no measurement is exact; leave the cell empty for the usual {PHOTO_SD:g}.")
        shade = Shade(lab, sd=given.pop("sd", PHOTO_SD))
        texts = {name: str(row[name]).strip() for name in _TEXTS if not _empty(row.get(name))}
        rest = {name: value for name, value in row.items() if name not in (*_NEEDED, *_TEXTS, *_NUMBERS)}
        loads = {
            name: checked_load(name, typed_number(value, name)) for name, value in rest.items() if not _empty(value)
        }
        return Tile(
            str(row["base"]).strip(), {name: x for name, x in loads.items() if x > 0}, shade, **{**texts, **given}
        )
    except ColormatchError as error:
        raise InputError(f"Row {number} of the tiles: {error}") from None


def _empty(value: Any) -> bool:
    return value is None or (isinstance(value, str) and not value.strip()) or value != value


def typed_number(value: Any, name: str) -> float:
    """The number in a cell, typed with a point or a comma; raises InputError."""
    try:
        return float(value.replace(",", ".") if isinstance(value, str) else value)
    except (TypeError, ValueError):
        raise InputError(f"{name} is {value!r}; it must be a number.") from None
