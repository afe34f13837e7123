"""Studio: cements, pigments, their lots, prices and stock; moulds; the studio's own numbers; its library."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import streamlit as st

from colormatch.errors import InputError
from colormatch.library import (
    Cement,
    CementLot,
    Mould,
    PigmentLot,
    PigmentRecord,
    data_folder,
    stock_warnings,
)
from colormatch.screens.drawing import plain, show_cautions, show_table
from colormatch.screens.exchange import COUNTED, exchange_part
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.keeping import shelve
from colormatch.screens.record_form import Words, pick, record_form
from colormatch.screens.state import put, start_with, studio
from colormatch.screens.studios import LOCATION, library, settings
from colormatch.starter import starter_palette

PIGMENTS, CEMENTS, MOULDS, NUMBERS, LIBRARY = "Pigments", "Cements", "Moulds", "The studio", "The library"
UNKNOWN = "nothing known: a wide doubt"
PIGMENT_WORDS = {
    "name": "Name", "chemistry": "Chemistry", "like": "Taken to resemble",
    "maximum_load": "Its own maximum, % of the cement", "warn_below_g": "Warn when less is left, g", "notes": "Notes",
}  # fmt: skip
CEMENT_WORDS = {
    "name": "Name", "tone": "Taken to resemble", "warn_below_g": "Warn when less is left, g", "notes": "Notes",
}  # fmt: skip
LOT_WORDS = {
    "lot": "Lot", "bought_on": "Bought on", "price_per_kg": "Price per kg", "stock_g": "In stock, g", "notes": "Notes",
}  # fmt: skip
MOULD_WORDS = {
    "name": "Name", "fill_weight_g": "Wet mix in one filling, g", "volume_ml": "Volume, ml",
    "cement_g": "Dry cement in one filling, g", "notes": "Notes",
}  # fmt: skip
CAUTIONS = (
    "Cement may hold silica and chromium VI: mind the date on the bag, and close it tight.",
    "Follow the safety data sheet of every material, and your local rules.",
)


def page() -> None:
    st.title("Studio")
    parts = [PIGMENTS, CEMENTS, MOULDS, NUMBERS, LIBRARY]
    part = st.radio(
        "Part", parts, horizontal=True, label_visibility="collapsed", key=start_with("studio.part", PIGMENTS)
    )
    if part == PIGMENTS:
        starter = {name: each.label for name, each in starter_palette().pigments.items()}
        words = Words(PIGMENT_WORDS, {"like": {"": UNKNOWN, **starter}}, frozenset({"maximum_load"}))
        _materials(PigmentRecord, PigmentLot, "pigment_uid", words, LOT_WORDS)
    elif part == CEMENTS:
        tones = {name: each.label for name, each in starter_palette().bases.items()}
        words = Words(CEMENT_WORDS, {"tone": {"": "not said", **tones}})
        lot_words = {"lot": "Lot", "bought_on": "Bought on", "opened_on": "Opened on", **LOT_WORDS}
        _materials(Cement, CementLot, "cement_uid", words, lot_words)
    elif part == MOULDS:
        _moulds()
    elif part == NUMBERS:
        _numbers()
    else:
        _library()


def _materials(
    kind: type[PigmentRecord] | type[Cement],
    lot_kind: type[PigmentLot] | type[CementLot],
    owner: str,
    words: Words,
    lot_words: Mapping[str, str],
) -> None:
    """A shelf: every material with its stock and price, and forms for it and its lots."""
    for warning in stock_warnings(library(), date.today()):
        if warning.kind.startswith(kind.KIND):
            st.warning(plain(warning.sentence))
    records = {each.uid: each for each in library().list(kind)}
    lots = library().list(lot_kind)
    if not records:
        _offer_starter()
    rows = []
    for uid, each in records.items():
        own = [lot for lot in lots if getattr(lot, owner) == uid]
        stock = [lot.stock_g for lot in own if lot.stock_g is not None]
        prices = [lot.price_per_kg for lot in own if lot.price_per_kg is not None]
        price = f"{max(prices):.2f} {settings().currency}" if prices else ""
        rows.append([each.name, str(len(own)), f"{sum(stock):.0f} g" if stock else "not counted", price])
    show_table(["", "Lots", "In stock", "Price per kg"], rows)
    place = f"studio.{kind.KIND}"
    chosen = pick("Change", records, place)
    record_form(records.get(chosen) or kind(name=""), words, place)
    if chosen in records:
        st.subheader(plain(f"Lots of {records[chosen].name}"))
        own_lots = {lot.uid: lot for lot in lots if getattr(lot, owner) == chosen}
        lot_place = f"studio.{lot_kind.KIND}.{chosen}"
        lot = pick("Lot", own_lots, lot_place)
        fresh = CementLot(cement_uid=chosen) if kind is Cement else PigmentLot(pigment_uid=chosen)
        record_form(own_lots.get(lot) or fresh, Words(lot_words), lot_place)
    show_cautions(CAUTIONS)


def _offer_starter() -> None:
    st.info("The shelf is empty. Recipes are worked out with the starter pigments until yours are here.")
    if st.button("Put the starter materials on the shelf", type="primary", key="studio.starter"):
        with guard():
            starter = starter_palette()
            for base in starter.bases:
                shelve(base, starter.pigments)
            st.rerun()


def _moulds() -> None:
    records = {each.uid: each for each in library().list(Mould)}
    rows = [
        [each.name, _grams(each.fill_weight_g), "" if each.volume_ml is None else f"{each.volume_ml:g} ml",
         _grams(each.cement_g)]
        for each in records.values()
    ]  # fmt: skip
    show_table(["Mould", "Wet mix", "Volume", "Dry cement"], rows)
    st.caption("Weigh one filling of plain mix, or fill the mould with water and weigh that for its volume.")
    chosen = pick("Change", records, "studio.mould")
    record_form(records.get(chosen) or Mould(name=""), Words(MOULD_WORDS), "studio.mould")


def _grams(grams: float | None) -> str:
    return "" if grams is None else f"{grams:g} g"


def _numbers() -> None:
    """The studio's own numbers: what the other pages start from."""
    record = settings()
    noted = record.settings
    with st.form("studio.numbers"):
        one, two, three = st.columns(3)
        name = one.text_input("Name of the studio", record.name)
        currency = two.text_input("Currency", record.currency)
        cap = three.number_input(
            "Cap on pigment, % of the cement", 0.1, 10.0, 100 * float(noted.get("load_cap", 0.05)), 0.5
        )
        step = one.number_input(
            "Step of the pigment scale, g", 0.001, 50.0, float(noted.get("scale_step_g", 0.1)), 0.1, "%.3f"
        )
        water = two.number_input(
            "Water to 100 g of cement, g", 10.0, 100.0, 100 * float(noted.get("water_per_cement", 0.25))
        )
        if st.form_submit_button("Keep", type="primary"):
            with guard():
                if not name.strip():
                    raise InputError("The studio needs a name: what stands on your door or your stamp.")
                numbers = {"load_cap": cap / 100, "scale_step_g": step, "water_per_cement": water / 100}
                library().save(replace(record, name=name, currency=currency, settings={**noted, **numbers}))
                for place, number in (("recipe.cap", cap), ("batch.water", water)):
                    put(place, number)
                for place in ("recipe.step", "batch.step", "drying.step"):
                    put(place, step)
                say_then_draw("studio.numbers", "Kept. The other pages start from these numbers.")
    show_notice("studio.numbers")
    st.caption("5 % and 4 : 1 are common practice, without a source; ASTM C979 allows at most 10 % in all.")


def _library() -> None:
    where = os.environ.get(LOCATION) or str(data_folder())
    if studio() == "demo":
        st.markdown("The demo studio is open: a library of its own beside yours. Your own library is one choice away.")
    st.markdown(plain(f"Your own library is kept at {where}."))
    st.caption(
        "To keep it elsewhere, or on a database server, start the page with its place: colormatch page --library …"
    )
    rows = [[words, str(library().count(kind))] for words, kind in COUNTED.items()]
    show_table(["In the open library", ""], rows)
    if st.button("Check the library", key="studio.check"):
        with guard(), st.spinner("Reading everything"):
            wrong = library().check()
            for sentence in wrong:
                st.error(plain(sentence))
            if not wrong:
                st.success("Everything can be read, and every photograph is as it was stored.")
    exchange_part()


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
