"""Her shelf: the cements and jars she has, and what recipes may be offered of all that is known.

Knowledge covers every material ever cast. The offer is the same palette without what is not on the shelf: a
cement or pigment that has a record, and a lot that is not used up, or no lot at all.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from ..arrays import SCALE_STEPS_G
from ..bench.batch import WASTE, WATER_PER_CEMENT
from ..difference import JUST_SEEN
from ..errors import InputError
from ..library import BatchRecord, Cement, CementLot, Library, Mould, PigmentLot, PigmentRecord, Studio, newest_price
from ..loads import ASTM_C979_MAXIMUM, LEAST_WATER, MOST_WATER, STUDIO_CAP
from ..palette import Palette

if TYPE_CHECKING:
    from ..recipes import Limits
    from ..shade import Shade

# The light her pieces are seen in, by the plain names of `lamps`, and how it is said; "" is daylight.
LIGHTS = {
    "": "soft, even daylight, not in direct sun", "window": "window light", "bulb": "the light of a warm bulb",
    "living room": "living-room light", "shop": "shop light (LED)", "shop, tubes": "shop light (tubes)",
}  # fmt: skip

Lot = TypeVar("Lot", CementLot, PigmentLot)

_SCALE_STEP_G, _BULK_STEP_G = 0.1, 1.0  # a pocket scale and a kitchen scale
_SETTINGS = (
    "cement_uid", "mould_uid", "load_cap", "scale_step_g", "bulk_step_g", "water_per_cement", "waste", "light"
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Material:
    """A cement or pigment on the shelf. `like`: the starter it is taken to resemble, empty: not known.

    lots: bags or jars not used up. stock_g: in all of them; None: not counted. uid: its name in the palette.
    """

    uid: str
    name: str
    like: str
    lots: tuple[CementLot | PigmentLot, ...]
    stock_g: float | None
    price_per_kg: float | None


@dataclass(frozen=True, slots=True)
class Shelf:
    """What she has: the default cement first, then by name."""

    cements: tuple[Material, ...]
    pigments: tuple[Material, ...]

    @property
    def empty(self) -> bool:
        """Whether nothing can be cast: no cement, or no pigment."""
        return not (self.cements and self.pigments)

    @property
    def names(self) -> frozenset[str]:
        """The uids of everything on it."""
        return frozenset(each.uid for each in (*self.cements, *self.pigments))


@dataclass(frozen=True, slots=True)
class Defaults:
    """What every form starts from. Steps in g; cap and water in g per g of cement; waste a share of the mix."""

    cement_uid: str | None
    mould_uid: str | None
    load_cap: float
    scale_step_g: float
    bulk_step_g: float
    water_per_cement: float
    waste: float
    light: str
    currency: str


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A pigment she does not have and that would bring the shade nearer: by how much, in dE00."""

    name: str
    label: str
    nearer: float
    words: str


def shelf(library: Library) -> Shelf:
    """What is on the shelf now."""
    usual = defaults(library).cement_uid
    cements = _on_shelf(library.list(Cement), library.list(CementLot))
    pigments = _on_shelf(library.list(PigmentRecord), library.list(PigmentLot))
    return Shelf(tuple(sorted(cements, key=lambda each: (each.uid != usual, each.name))), tuple(pigments))


def offer(library: Library, knowledge: Palette) -> Palette:
    """The palette of what is on the shelf, the default cement first; InputError when no cement is there."""
    here = shelf(library)
    bases = [each.uid for each in here.cements if each.uid in knowledge.bases]
    if not bases:
        raise InputError("There is no cement on your shelf yet. Add the bag you cast with; its name is enough.")
    return only(knowledge, bases, [each.uid for each in here.pigments if each.uid in knowledge.pigments])


def only(palette: Palette, bases: Iterable[str], pigments: Iterable[str]) -> Palette:
    """The same knowledge of fewer materials: of a Gaussian, the rest is left out as it stands."""
    bases, pigments = list(bases), list(pigments)
    parts = [palette.layout.base(name) for name in bases] + [palette.layout.pigment(name) for name in pigments]
    parts += [palette.layout.state(name) for name in palette.states]
    kept = np.concatenate([np.arange(part.start, part.stop) for part in parts])
    return replace(
        palette,
        bases={name: palette.bases[name] for name in bases},
        pigments={name: palette.pigments[name] for name in pigments},
        mean=palette.mean[kept],
        covariance=palette.covariance[np.ix_(kept, kept)],
    )


def limits(
    library: Library,
    offered: Palette,
    *,
    cement_g: float | None = None,
    max_pigments: int = 4,
    within_stock: bool = True,
) -> Limits:
    """The limits of a recipe as the studio has them: its cap and scale, and what is left in the jars."""
    from ..recipes import Limits

    usual = defaults(library)
    stock = {each.uid: max(each.stock_g, 0.0) for each in shelf(library).pigments if each.stock_g is not None}
    kept = {name: grams for name, grams in stock.items() if name in offered.pigments}
    return Limits(
        load_cap=usual.load_cap,
        scale_step_g=usual.scale_step_g,
        max_pigments=max_pigments,
        stock_g=kept if within_stock else {},
        cement_g=Limits.cement_g if cement_g is None else cement_g,
    )


def worth_buying(
    library: Library,
    knowledge: Palette,
    targets: Sequence[Shade],
    base: str,
    limits: Limits,
    *,
    most: int = 2,
    state: str = "dry",
) -> tuple[Suggestion, ...]:
    """Starter pigments that would bring the shades nearer by 1 dE00 or more on average, best first; no grams."""
    from ..recipes import what_to_buy

    resembled = {each.like for each in shelf(library).pigments if each.like}
    limits = replace(limits, stock_g={})
    found = []
    for one in what_to_buy(offer(library, knowledge), targets, base, limits, state=state, have=resembled):
        nearer = float((one.before - one.after).mean())
        jar = f"A jar of {one.label.lower()}"
        words = f"{jar} would bring it about {nearer:.0f} nearer." if len(targets) == 1 else one.sentence
        if nearer >= JUST_SEEN:
            found.append(Suggestion(one.pigment, one.label, nearer, words))
    return tuple(found[:most])


def defaults(library: Library) -> Defaults:
    """The studio's own numbers; her opened bag, else the newest; the mould she fills most."""
    studio = studio_of(library)
    noted = studio.settings
    cement, mould = noted.get("cement_uid"), noted.get("mould_uid")
    here = {each.uid for each in _on_shelf(library.list(Cement), library.list(CementLot))}
    if cement not in here:
        cement = _bag_in_use(library, here)
    if not isinstance(mould, str) or library.find_one(Mould, mould) is None:
        used = Counter(each.mould_uid for each in library.list(BatchRecord) if each.mould_uid)
        mould = used.most_common(1)[0][0] if used else None
    return Defaults(
        cement_uid=cement,
        mould_uid=mould,
        load_cap=studio.number("load_cap", STUDIO_CAP),
        scale_step_g=studio.number("scale_step_g", _SCALE_STEP_G),
        bulk_step_g=studio.number("bulk_step_g", _BULK_STEP_G),
        water_per_cement=studio.number("water_per_cement", WATER_PER_CEMENT),
        waste=studio.number("waste", WASTE),
        light=str(noted.get("light", "")),
        currency=studio.currency,
    )


def set_defaults(
    library: Library, *, name: str | None = None, currency: str | None = None, **numbers: object
) -> Defaults:
    """Change the studio's name, currency or numbers (see Defaults); what is not given stays."""
    from ..arrays import number_between

    if unknown := set(numbers) - set(_SETTINGS):
        raise InputError(f"There is no setting {min(unknown)!r}; there are {', '.join(_SETTINGS)}.")
    for key, (words, low, high, unit) in _RANGES.items():
        if key in numbers:
            numbers[key] = number_between(numbers[key], name=words, low=low, high=high, unit=unit, open_low=low == 0)  # type: ignore[arg-type]
    studio = studio_of(library)
    library.save(
        replace(
            studio,
            name=studio.name if name is None else name,
            currency=currency or studio.currency,
            settings={**studio.settings, **numbers},
        )
    )
    return defaults(library)


def studio_of(library: Library) -> Studio:
    """The studio with its settings; an empty one called My studio where nothing was said yet."""
    return library.find_one(Studio, "studio") or Studio(uid="studio", name="My studio")


def keep_setting(library: Library, name: str, value: object) -> None:
    """Change one of the studio's settings that is no number of `Defaults`."""
    studio = studio_of(library)
    library.save(replace(studio, settings={**studio.settings, name: value}))


def material_names(library: Library) -> dict[str, str]:
    """What she calls every cement and pigment, by uid."""
    materials: list[Cement | PigmentRecord] = [*library.list(Cement), *library.list(PigmentRecord)]
    return {each.uid: each.name for each in materials}


_RANGES = {
    "load_cap": ("The cap on pigment", 0.0, ASTM_C979_MAXIMUM, "g per g of cement"),
    "scale_step_g": ("The step of the pigment scale", *SCALE_STEPS_G, "g"),
    "bulk_step_g": ("The step of the cement scale", *SCALE_STEPS_G, "g"),
    "water_per_cement": ("Water per cement", LEAST_WATER, MOST_WATER, "g per g"),
}


def _on_shelf(records: Iterable[Cement | PigmentRecord], lots: Iterable[CementLot | PigmentLot]) -> list[Material]:
    own: dict[str, list[CementLot | PigmentLot]] = {}
    for lot in lots:
        own.setdefault(lot.material_uid, []).append(lot)
    found = []
    for record in records:
        all_lots = own.get(record.uid, [])
        here = [lot for lot in all_lots if lot.used_up_on is None]
        if all_lots and not here:
            continue
        counted = [lot.stock_g for lot in here]
        known = [grams for grams in counted if grams is not None]
        found.append(
            Material(
                uid=record.uid,
                name=record.name,
                like=record.like,
                lots=tuple(sorted(here, key=_in_use_first)),
                stock_g=sum(known) if known and len(known) == len(counted) else None,
                price_per_kg=newest_price(here),
            )
        )
    return sorted(found, key=lambda each: (each.name.casefold(), each.uid))


def _in_use_first(lot: CementLot | PigmentLot) -> tuple[bool, int]:
    """The opened bag first, then the one bought last."""
    opened = lot.opened_on if isinstance(lot, CementLot) else None
    return (opened is None, -(opened or lot.bought_on or date.min).toordinal())


def _bag_in_use(library: Library, here: set[str]) -> str | None:
    lots = [lot for lot in library.list(CementLot) if lot.used_up_on is None and lot.cement_uid in here]
    if lots:
        return min(lots, key=_in_use_first).cement_uid
    return min(here, default=None)
