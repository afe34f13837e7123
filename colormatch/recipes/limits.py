"""What a recipe must keep to: caps, pigments, stock, the batch and the scale."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from ..arrays import number_between, plain_number, whole_number_between
from ..errors import InputError, LoadError, RecipeError
from ..frozen import FrozenMapping
from ..loads import ASTM_C979_MAXIMUM, STUDIO_CAP, per_cent

MOST_PIGMENTS = 5  # in one bowl, more than a small studio weighs for a tone; common practice, no source
USUAL_CEMENT_G = 780.0  # a batch of a small studio; a judgement
# A reading is too coarse for doses below this many steps of the scale: 20 steps keep the step's own
# error (d / sqrt 12) under 1.5 % of the dose. Common practice, no source.
SMALL_DOSE_STEPS = 20
PREBLEND_PARTS = 9  # parts of dry cement to one part of pigment; common practice, no source
PREBLEND_SHARE = 1 / (1 + PREBLEND_PARTS)


@dataclass(frozen=True)
class Limits:
    """Limits of a recipe; every load in g pigment per g dry cement.

    load_cap: most pigment in all, 0..0.10 (ASTM C979); a pigment's own maximum holds besides.
    max_pigments: 1..5, fixed ones included. cement_g: dry cement of the batch. scale_step_g: the
    scale's step. pigments: names the search may choose from, None for all, [] for bare cement.
    must_use, never_use: names.
    stock_g: grams at hand, by name; what is not named is plentiful. fixed_loads: loads already decided,
    such as a pigment shared by both tones or one that is in the bowl: nothing is left to choose about them,
    so they need not be among `pigments`, but the cap and max_pigments count them.
    Raises LoadError, InputError or RecipeError with what to do next.
    """

    load_cap: float = STUDIO_CAP
    max_pigments: int = 4
    cement_g: float = USUAL_CEMENT_G
    scale_step_g: float = 0.1
    pigments: Iterable[str] | None = None
    must_use: Iterable[str] = ()
    never_use: Iterable[str] = ()
    stock_g: Mapping[str, float] = field(default_factory=FrozenMapping)
    fixed_loads: Mapping[str, float] = field(default_factory=FrozenMapping)

    def __post_init__(self) -> None:
        put = object.__setattr__
        put(self, "load_cap", _checked_cap(self.load_cap))
        most = whole_number_between(self.max_pigments, name="max_pigments", low=1, high=MOST_PIGMENTS)
        put(self, "max_pigments", most)
        put(self, "cement_g", _grams("The dry cement of the batch", self.cement_g, 1e6, open_low=True))
        put(self, "scale_step_g", _grams("The scale's step", self.scale_step_g, 50, open_low=True))
        for name in ("must_use", "never_use"):
            put(self, name, _names(name, getattr(self, name)))
        put(self, "pigments", None if self.pigments is None else _names("pigments", self.pigments))
        for name in ("stock_g", "fixed_loads"):
            if not isinstance(getattr(self, name), Mapping):
                raise InputError(
                    f"{name} is {getattr(self, name)!r}; give numbers by name, such as {{'cobalt-blue': 2.0}}."
                )
        stock = {name: _grams(f"The stock of {name}", g, 1e7) for name, g in self.stock_g.items()}
        put(self, "stock_g", FrozenMapping(stock))
        fixed = {name: _fixed_load(name, load) for name, load in self.fixed_loads.items()}
        put(self, "fixed_loads", FrozenMapping(fixed))
        self._check_together()

    @property
    def step_load(self) -> float:
        """The load that one step of the scale makes in this batch."""
        return self.scale_step_g / self.cement_g

    def _check_together(self) -> None:
        must, never = set(self.must_use), set(self.never_use)
        if must & never:
            raise RecipeError(f"{_listed(must & never)} is both must-use and never-use; take it off one list.")
        fixed_and_barred = never & set(self.fixed_loads)
        if fixed_and_barred:
            raise RecipeError(f"{_listed(fixed_and_barred)} has a fixed load and is never-use; take it off one.")
        if self.pigments is not None and (missing := must - set(self.pigments)):
            raise RecipeError(f"{_listed(missing)} must be used but is not among the allowed pigments; allow it.")
        decided = must | set(self.fixed_loads)
        if len(decided) > self.max_pigments:
            raise RecipeError(
                f"{len(decided)} pigments must be used or are fixed ({_listed(decided)}), but a recipe may "
                f"have {self.max_pigments}; allow more of them, or free some."
            )
        total = sum(self.fixed_loads.values())
        if total > self.load_cap + 1e-12:
            raise LoadError(
                f"The fixed loads add up to {per_cent(total)} of the cement, over the cap of "
                f"{per_cent(self.load_cap)}; lower them or raise the cap."
            )


def _checked_cap(value: float) -> float:
    try:
        cap = plain_number(value)
    except (TypeError, ValueError):
        raise LoadError(f"The load cap is {value!r}; it must be a number from 0 to 0.1.") from None
    if not 0 <= cap <= ASTM_C979_MAXIMUM:
        raise LoadError(
            f"The load cap is {cap:g} g pigment per g cement; it must be from 0 to {ASTM_C979_MAXIMUM:g} "
            "(10 % of the dry cement, ASTM C979). 5 % is 0.05."
        )
    return cap


def _grams(name: str, value: float, high: float, *, open_low: bool = False) -> float:
    return number_between(value, name=name, low=0.0, high=high, unit="g", open_low=open_low)


def _fixed_load(name: str, value: float) -> float:
    try:
        load = plain_number(value)
    except (TypeError, ValueError):
        raise LoadError(f"The fixed load of {name} is {value!r}; it must be a number, such as 0.01.") from None
    if not 0 < load <= ASTM_C979_MAXIMUM:
        raise LoadError(
            f"The fixed load of {name} is {load:g}; it must be more than 0 and at most {ASTM_C979_MAXIMUM:g}."
        )
    return load


def _names(what: str, names: Iterable[str]) -> tuple[str, ...]:
    if isinstance(names, str) or not isinstance(names, Iterable) or not all(isinstance(n, str) for n in names):
        raise InputError(f"{what} is {names!r}; give a list of pigment names, such as [{names!r}].")
    return tuple(dict.fromkeys(names))


def _listed(names: Iterable[str]) -> str:
    return ", ".join(sorted(names))
