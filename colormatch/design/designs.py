"""The nouns of a two-tone piece: tone, mould, design."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal, get_args

from ..arrays import number_between
from ..errors import InputError

Pattern = Literal["layered", "dipped", "swirled", "speckled", "split"]
Form = Literal["cup", "bowl", "tray", "tile"]
PATTERNS: tuple[str, ...] = get_args(Pattern)
FORMS: tuple[str, ...] = get_args(Form)

LEAST_SHARE = 0.01
_SHARE_SLACK = 1e-6


@dataclass(frozen=True, slots=True)
class Tone:
    """One of the two mixes: its base, its loads in g pigment per g dry cement, its share by volume.

    No loads: the bare cement. share: 0.01..0.99 of the piece. Raises InputError.
    The loads are checked against the palette, its caps included, when bowls are weighed.
    """

    base: str
    loads: Mapping[str, float] = field(default_factory=dict)
    share: float = 0.5

    def __post_init__(self) -> None:
        object.__setattr__(self, "loads", MappingProxyType(dict(self.loads)))
        number_between(self.share, name="A tone's share of the piece", low=LEAST_SHARE, high=1 - LEAST_SHARE)

    @property
    def is_bare(self) -> bool:
        """Whether this is the cement alone."""
        return not any(self.loads.values())

    def __hash__(self) -> int:
        return hash((self.base, tuple(sorted(self.loads.items())), self.share))


@dataclass(frozen=True, slots=True)
class Mould:
    """A mould: what it is called, how much wet mix one piece takes, and its form for the picture.

    Give either fill_g, the wet mix one filling weighs, or fill_ml, the volume. Raises InputError.
    """

    name: str
    form: Form = "cup"
    fill_g: float | None = None
    fill_ml: float | None = None

    def __post_init__(self) -> None:
        _check_choice(self.form, "form", FORMS)
        if (self.fill_g is None) == (self.fill_ml is None):
            raise InputError(
                f"The mould {self.name!r} needs its fill once: either fill_g (grams of wet mix) or fill_ml. "
                "Weigh one filling of plain mix, or fill the mould with water and weigh that."
            )
        if self.fill_g is not None:
            number_between(self.fill_g, name="A mould's fill", low=1, high=1e6, unit="g")
        if self.fill_ml is not None:
            number_between(self.fill_ml, name="A mould's fill", low=1, high=1e6, unit="ml")


@dataclass(frozen=True, slots=True)
class Design:
    """A two-tone piece: pattern, two tones whose shares add up to 1, mould, number of pieces, waste.

    The order of the tones matters in the picture. layered: the first lies below; dipped: the second is
    the foot; split: the first is on the left; speckled: the second makes the flecks.
    waste: mix left in the bowls and on the tools, as a share of the fill, 0..1. Raises InputError.
    """

    pattern: Pattern
    tones: tuple[Tone, Tone]
    mould: Mould
    pieces: int = 1
    waste: float = 0.1

    def __post_init__(self) -> None:
        _check_choice(self.pattern, "pattern", PATTERNS)
        if len(self.tones) != 2:
            raise InputError(f"A two-tone design has two tones; this one has {len(self.tones)}.")
        object.__setattr__(self, "tones", tuple(self.tones))
        total = self.tones[0].share + self.tones[1].share
        if abs(total - 1) > _SHARE_SLACK:
            raise InputError(
                f"The shares of the two tones add up to {total:g}; they must add up to 1. "
                f"With {self.tones[0].share:g} for the first, the second is {1 - self.tones[0].share:g}."
            )
        if isinstance(self.pieces, bool) or not isinstance(self.pieces, int) or not 1 <= self.pieces <= 10000:
            raise InputError(f"The number of pieces is {self.pieces!r}; it must be a whole number, 1 to 10000.")
        number_between(self.waste, name="The waste", low=0, high=1)


def _check_choice(value: str, what: str, choices: tuple[str, ...]) -> None:
    if value not in choices:
        raise InputError(f"There is no {what} called {value!r}. Choose one of: {', '.join(choices)}.")
