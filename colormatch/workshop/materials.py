"""Putting on the shelf with the fewest facts, and taking off: a bag of cement, a jar of pigment, a mould."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace
from datetime import date
from typing import Any, TypeVar

from ..bench.batch import MOST_G
from ..errors import InputError
from ..library import Cement, CementLot, Library, Mould, PigmentLot, PigmentRecord, Record, new_uid
from ..naming import LONGEST_NAME
from ..starter import starter_palette

CEMENT_KINDS = ("quick-setting", "portland", "other")
SMALLEST_G = 1.0  # of a mould: below, no scale of a studio weighs its parts

R = TypeVar("R", bound=Cement | PigmentRecord)
L = TypeVar("L", bound=CementLot | PigmentLot)


def add_bag(
    library: Library,
    name: str,
    *,
    kind: str = "",
    like: str = "",
    price_per_kg: float | None = None,
    stock_g: float | None = None,
    lot: str = "",
    bought_on: date | None = None,
    opened_on: date | None = None,
    **as_its_sheet_says: float | None,
) -> Cement:
    """A cement with its bag: the name is enough. kind: one of CEMENT_KINDS; like: the starter it resembles.

    as_its_sheet_says: demould_after_h, moist_days, seal_after_days, warn_below_g. A name that is on the shelf is
    refused: a further bag of it is `add_lot`.
    """
    if kind and kind not in CEMENT_KINDS:
        raise InputError(f"The kind of a cement is {kind!r}; it must be one of {', '.join(CEMENT_KINDS)}.")
    name, uid = _begun(library, Cement, name, "cement", like, starter_palette().bases)
    cement = Cement(uid=uid, name=name, kind=kind, tone=like, **as_its_sheet_says)  # type: ignore[arg-type]
    bag = CementLot(
        cement_uid=uid, lot=lot, bought_on=bought_on, opened_on=opened_on, price_per_kg=price_per_kg, stock_g=stock_g
    )
    library.save_all([cement, bag])
    return library.get(Cement, uid)


def add_jar(
    library: Library,
    name: str,
    *,
    like: str = "",
    chemistry: str = "",
    maximum_load: float | None = None,
    warn_below_g: float | None = None,
    price_per_kg: float | None = None,
    stock_g: float | None = None,
    lot: str = "",
    bought_on: date | None = None,
) -> PigmentRecord:
    """A pigment with its jar: the name on the lid is enough. like: the closest known pigment; empty: not known.

    maximum_load: as its data sheet says, g per g of cement. A name that is on the shelf is refused: a further jar of
    it is `add_lot`.
    """
    name, uid = _begun(library, PigmentRecord, name, "pigment", like, starter_palette().pigments)
    pigment = PigmentRecord(
        uid=uid, name=name, like=like, chemistry=chemistry, maximum_load=maximum_load, warn_below_g=warn_below_g
    )
    jar = PigmentLot(pigment_uid=uid, lot=lot, bought_on=bought_on, price_per_kg=price_per_kg, stock_g=stock_g)
    library.save_all([pigment, jar])
    return library.get(PigmentRecord, uid)


def add_lot(library: Library, material: R, *, as_new: bool = False, name: str = "", **fields: Any) -> R:
    """A further bag or jar of something on the shelf; the material it is a lot of.

    as_new: it may look different, so it is a material of its own (see as_new_material), called `name`.
    fields: those of the lot (lot, bought_on, price_per_kg, stock_g ...).
    """
    material = as_new_material(library, material, name) if as_new else material
    lot = lot_of(material, **fields)
    library.save_all([material, lot] if as_new else [lot])
    return library.get(type(material), material.uid)


def as_new_material(library: Library, old: R, name: str = "") -> R:
    """One that starts from what is known of the old one, widened as for another lot; not kept yet."""
    taken = [each.name for each in library.list(type(old))]
    title = distinct(name or f"{old.name}, {'bag' if isinstance(old, Cement) else 'jar'} of "
                     f"{date.today().day} {date.today():%B}", taken)  # fmt: skip
    fresh = replace(old, uid=library.fresh_uid(type(old), title), name=title, version=0)
    return replace(fresh, tone=old.uid) if isinstance(fresh, Cement) else replace(fresh, like=old.uid)


def lot_of(material: Cement | PigmentRecord, **fields: Any) -> CementLot | PigmentLot:
    """A bag or jar of a material; not kept yet."""
    if isinstance(material, Cement):
        return CementLot(uid=new_uid(), cement_uid=material.uid, **fields)
    return PigmentLot(uid=new_uid(), pigment_uid=material.uid, **fields)


def used_up(library: Library, lot: L, on: date | None = None) -> L:
    """The bag or jar is empty: off the shelf, and what was learned of it stays."""
    return library.update(type(lot), lot.uid, lambda each: replace(each, used_up_on=on or date.today()))


def back_on_shelf(library: Library, lot: L) -> L:
    """It was not empty after all."""
    return library.update(type(lot), lot.uid, lambda each: replace(each, used_up_on=None))


def add_mould(
    library: Library,
    name: str,
    *,
    fill_weight_g: float | None = None,
    volume_ml: float | None = None,
    cement_g: float | None = None,
    notes: str = "",
) -> Mould:
    """A mould by one amount of one filling: wet mix in g, or the water that fills it in ml, or dry cement in g."""
    name = own_name(library, Mould, name, "mould")
    return library.save(
        checked_mould(
            Mould(name=name, fill_weight_g=fill_weight_g, volume_ml=volume_ml, cement_g=cement_g, notes=notes)
        )
    )


def checked_mould(mould: Mould) -> Mould:
    """The mould as it stands; InputError for one that cannot be used: no amount, or one out of 1 g to 100 kg."""
    amounts = {"Wet mix": mould.fill_weight_g, "The water that fills it": mould.volume_ml, "Dry cement": mould.cement_g}
    given = {words: amount for words, amount in amounts.items() if amount is not None}
    if not given:
        raise InputError("The mould needs an amount: weigh one filling, or fill it with water and weigh the water.")
    for words, amount in given.items():
        if not SMALLEST_G <= amount <= MOST_G:
            raise InputError(f"{words} is {amount:.12g}; for a mould it must be from {SMALLEST_G:g} to {MOST_G:g}.")
    return mould


def named(name: str) -> str:
    """A name the maker typed, or an error that asks for one."""
    plain = " ".join(name.split())
    if not plain:
        raise InputError("It needs a name before it can be kept: the name you call it by.")
    if len(plain) > LONGEST_NAME:
        raise InputError(f"The name has {len(plain)} characters; at most {LONGEST_NAME} are kept. Shorten it.")
    return plain


_ORDINALS = ("second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


def distinct(name: str, taken: Iterable[str]) -> str:
    """The name, or the first of `name, second`, `name, third` ... that nothing else has; a very long one is cut."""
    held = {each.casefold() for each in taken}
    ends = ["", *(f", {word}" for word in _ORDINALS), *(f", {n}th" for n in range(11, len(held) + 13))]
    ways = (f"{name[: LONGEST_NAME - len(end)]}{end}" for end in ends)
    return next(each for each in ways if each.casefold() not in held)


def _begun(
    library: Library, kind: type[Record], name: str, words: str, like: str, starters: Collection[str]
) -> tuple[str, str]:
    """The name and the uid of a new material that may resemble one of the starters."""
    name = own_name(library, kind, name, words)
    if like and like not in starters:
        raise InputError(f"A {words} is like {like!r}; it must be one of {', '.join(starters)}.")
    # Never a starter's uid: her jar resembles it, but is not that very powder.
    return name, library.fresh_uid(kind, name, never=starters)


def own_name(library: Library, kind: type[Record], name: str, words: str, uid: str = "") -> str:
    """A name typed for a new record or that of `uid`, or an error where another of its kind has it."""
    name = named(name)
    taken = [each.name for each in library.list(kind) if each.uid != uid]  # type: ignore[attr-defined]
    if name.casefold() in (each.casefold() for each in taken):
        raise InputError(
            f"There is a {words} called {name!r} already. Give this one another name, such as "
            f"{distinct(name, taken)!r}, or edit the one that is there."
        )
    return name
