"""What is noted of one bag or jar: the material itself, and its lots."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import streamlit as st

from colormatch.library import Cement, CementLot, PigmentLot, PigmentRecord
from colormatch.screens.blocks import confirmed, head, small
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.short_forms import KIND_WORDS, UNKNOWN, most_load, price_and_stock, price_and_stock_fields
from colormatch.screens.studios import library
from colormatch.screens.typed_numbers import keeping, number_field, read_if_any, sure
from colormatch.screens.work import Work
from colormatch.starter import starter_palette
from colormatch.workshop.materials import CEMENT_KINDS, add_lot, own_name, used_up
from colormatch.workshop.shelf import Material, defaults, set_defaults

_HOURS = {"demould_after_h": ("In the mould", "h"), "moist_days": ("Kept moist", "days"),
          "seal_after_days": ("Sealed not before", "days")}  # fmt: skip


def material_form(material: Material) -> None:
    """Name, closest known material and limits; kept by its button."""
    record = _record(material)
    key, work = f"material.{material.uid}", Work("form material", material.uid)
    work.say()
    known = starter_palette()
    labels = {
        name: each.label for name, each in (known.bases if isinstance(record, Cement) else known.pigments).items()
    }
    closest = {"": UNKNOWN, **labels}
    name = st.text_input("Name", **work.field("name", record.name))
    now = record.like
    if now and now not in closest and (old := library().find_one(type(record), now)):  # it began from another of hers
        closest[now] = old.name
    like = st.selectbox(
        "Its colour is most like" if isinstance(record, Cement) else "Closest known pigment", list(closest),
        format_func=closest.__getitem__, **work.field("like", now if now in closest else "", among=closest),
    )  # fmt: skip
    if isinstance(record, Cement):
        st.segmented_control("Kind", CEMENT_KINDS, format_func=KIND_WORDS.__getitem__,
                             **work.field("kind", record.kind or None, CEMENT_KINDS, key=f"{key}.kind"))  # fmt: skip
        columns = st.columns(3)
        for column, (field, (words, unit)) in zip(columns, _HOURS.items(), strict=True):
            with column:
                number_field(words, f"{key}.{field}", value=_typed(getattr(record, field)), unit=unit,
                             hint="its kind's", work=work)  # fmt: skip
    else:
        most = record.maximum_load
        number_field("At most, as its data sheet says", f"{key}.most", unit="% of the cement", hint="up to 10",
                     value=_typed(None if most is None else 100 * most), work=work)  # fmt: skip
    number_field("Warn when less is left", f"{key}.warn", value=_typed(record.warn_below_g), unit="g", work=work)
    notes = st.text_area("Notes", height=68, **work.field("notes", record.notes))
    if st.button("Keep", type="primary", key=f"{key}.keep") or sure(f"{key}.keep", work):
        with keeping(f"{key}.keep", work):
            kind = "cement" if isinstance(record, Cement) else "pigment"
            fresh = replace(record, name=own_name(library(), type(record), name, kind, record.uid), notes=notes,
                            warn_below_g=read_if_any(f"{key}.warn", name="The limit", high=1_000_000))  # fmt: skip
            library().save(_with_limits(fresh, key, str(like or "")))
            work.drop()
            say_then_draw(f"material.{material.uid}", "Kept.")
    show_notice(f"material.{material.uid}")
    usual = not isinstance(record, Cement) or defaults(library()).cement_uid == record.uid
    if not usual and st.button("Let forms start with this one", key=f"{key}.usual"):
        set_defaults(library(), cement_uid=record.uid)
        st.rerun()
    if confirmed("Remove it", f"{key}-remove", sure="Remove it",
                 question="It goes into the bin with its bags or jars, from where it can be restored. "
                 "If it is only empty, say below that it is used up: then what was learned of it stays."):  # fmt: skip
        with guard():
            library().delete(record)
            st.rerun()


def lots_part(material: Material) -> None:
    """Each bag or jar with its price and stock; used up; a further one."""
    what = "bag" if isinstance(_record(material), Cement) else "jar"
    for number, lot in enumerate(material.lots, start=1):
        _lot(lot, f"{what.capitalize()} {number}" if len(material.lots) > 1 else f"The {what}")
    key, work = f"lot.new.{material.uid}", Work("form new lot", material.uid)
    with st.expander(f"Another {what} of it"):
        price_and_stock_fields(key, work)
        lot_name = st.text_input("Lot, as printed on it", **work.field("lot", ""))
        as_new = st.checkbox("It may look different: learn it on its own, from what is known of this one",
                             **work.field("new", False))  # fmt: skip
        if st.button(f"Add the {what}", key=f"{key}.add") or sure(f"{key}.add", work):
            with keeping(f"{key}.add", work):
                price, stock = price_and_stock(key)
                added = add_lot(library(), _record(material), as_new=as_new, lot=lot_name, price_per_kg=price,
                                stock_g=stock, bought_on=date.today())  # fmt: skip
                work.drop()
                say_then_draw(f"material.{material.uid}", f"On the shelf: {added.name}.")


def _lot(lot: CementLot | PigmentLot, title: str) -> None:
    key, work = f"lot.{lot.uid}", Work("form lot", lot.uid)
    bought = f"bought {lot.bought_on:%d.%m.%Y}" if lot.bought_on else ""
    head(title, " · ".join(part for part in (lot.lot, bought) if part))
    price, stock = st.columns(2)
    with price:
        number_field("Price", f"{key}.price", unit=f"{defaults(library()).currency} per kg",
                     value=_typed(lot.price_per_kg), work=work)  # fmt: skip
    with stock:
        number_field("Stock", f"{key}.stock", unit="g", value=_typed(lot.stock_g), work=work)
    with st.container(horizontal=True):
        if st.button("Keep price and stock", key=f"{key}.keep") or sure(f"{key}.keep", work):
            with keeping(f"{key}.keep", work):
                price_per_kg, stock_g = price_and_stock(key)
                library().save(replace(lot, price_per_kg=price_per_kg, stock_g=stock_g))
                work.drop()
                st.rerun()
        if st.button("It is used up", key=f"{key}.gone"):
            with guard():
                used_up(library(), lot)
                st.rerun()
        if isinstance(lot, CementLot) and lot.opened_on is None and st.button("Opened today", key=f"{key}.opened"):
            with guard():
                library().save(replace(lot, opened_on=date.today()))
                st.rerun()
    if isinstance(lot, CementLot) and lot.opened_on is not None:
        small(f"Opened on {lot.opened_on:%d.%m.%Y}.")


def _record(material: Material) -> Cement | PigmentRecord:
    return library().find_one(Cement, material.uid) or library().get(PigmentRecord, material.uid)


def _with_limits(record: Cement | PigmentRecord, key: str, like: str) -> Cement | PigmentRecord:
    if isinstance(record, Cement):
        kind = str(st.session_state.get(f"{key}.kind") or "")
        hours: dict[str, Any] = {
            field: read_if_any(f"{key}.{field}", name=words, unit=unit, high=1000.0)
            for field, (words, unit) in _HOURS.items()
        }
        return replace(record, tone=like, kind=kind, **hours)
    return replace(record, like=like, maximum_load=most_load(f"{key}.most"))


def _typed(number: float | None) -> str:
    return "" if number is None else f"{round(number, 6):g}"
