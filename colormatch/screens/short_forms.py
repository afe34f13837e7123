"""The short forms: a bag, a jar, a mould, the scale. Few facts and one button each; the rest is in a fold.

Each returns True in the run in which something was kept. What is half-typed is work in hand: an error, a reload or a
restart leaves it as it was. Once it is kept, the fields are empty for the next one.
"""

from __future__ import annotations

from collections.abc import Mapping

import streamlit as st

from colormatch.errors import InputError
from colormatch.screens.blocks import small
from colormatch.screens.guard import guard
from colormatch.screens.studios import library
from colormatch.screens.typed_numbers import keeping, number_field, read, read_if_any, sure
from colormatch.screens.work import Work
from colormatch.starter import starter_palette
from colormatch.workshop.materials import CEMENT_KINDS, add_bag, add_jar, add_mould
from colormatch.workshop.shelf import defaults, set_defaults

KIND_WORDS = {"quick-setting": "quick-setting", "portland": "Portland", "other": "other"}
UNKNOWN = "I don't know"
WATER, WET, DRY = "water that fills it", "wet mix", "dry cement"
STEPS_G = (0.01, 0.1, 1.0)  # of scales that are sold; common practice, no source


def bag_form(place: str) -> bool:
    """A bag of cement: its name and kind."""
    work = Work("form bag", place)
    name = st.text_input("Name on the bag", placeholder="White cement", **work.field("name", ""))
    kind = st.segmented_control(
        "Kind", CEMENT_KINDS, format_func=KIND_WORDS.__getitem__, **work.field("kind", None, among=CEMENT_KINDS),
        help="The kind says how long a piece stays in the mould, is kept moist and waits for its sealer.",
    )  # fmt: skip
    tones = {"": UNKNOWN, **_labels(starter_palette().bases)}
    like = st.selectbox(
        "Its colour is most like", list(tones), format_func=tones.__getitem__, **work.field("like", "", among=tones),
        help="Where recipes start from, until a blank tile shows what the bag really does.",
    )  # fmt: skip
    with st.expander("Price and stock"):
        price_and_stock_fields(place, work, "In the bag")
    keep = f"{place}.keep"
    if st.button("Keep the bag", type="primary", key=keep) or sure(keep, work):
        with keeping(keep, work):
            price, stock = price_and_stock(place)
            add_bag(library(), name, kind=kind or "", like=like or "", price_per_kg=price, stock_g=stock)
            work.drop()
            return True
    return False


def jar_form(place: str) -> bool:
    """A jar of pigment: the name on its lid; and, where she knows it, the closest known pigment."""
    work = Work("form jar", place)
    name = st.text_input("Name on the lid", placeholder="Brick red", **work.field("name", ""))
    closest = {"": UNKNOWN, **_labels(starter_palette().pigments)}
    like = st.selectbox(
        "Closest known pigment", list(closest), format_func=closest.__getitem__,
        **work.field("like", "", among=closest),
        help="Where recipes start from, until a tile shows what the jar really does.",
    )  # fmt: skip
    with st.expander("Price, stock, its own maximum"):
        price_and_stock_fields(place, work, "In the jar")
        most = "At most, as its data sheet says"
        number_field(most, f"{place}.most", unit="% of the cement", hint="up to 10", work=work)
    keep = f"{place}.keep"
    if st.button("Keep the jar", type="primary", key=keep) or sure(keep, work):
        with keeping(keep, work):
            price, stock = price_and_stock(place)
            maximum = most_load(f"{place}.most")
            add_jar(library(), name, like=like or "", price_per_kg=price, stock_g=stock, maximum_load=maximum)
            work.drop()
            return True
    return False


def mould_form(place: str) -> bool:
    """A mould by one amount of one filling."""
    work = Work("form mould", place)
    name = st.text_input("Name of the mould", placeholder="Bud planter", **work.field("name", ""))
    words = {
        WATER: "Fill it with water and weigh the water: 1 g is 1 ml.",
        WET: "Weigh one filling of plain mix.",
        DRY: "The dry cement that goes into one filling.",
    }
    way = st.segmented_control("Measured by", list(words), required=True, **work.field("way", WATER, among=words))
    small(words[way])
    number_field("One filling", f"{place}.amount", unit="g", work=work)
    keep = f"{place}.keep"
    if st.button("Keep the mould", type="primary", key=keep) or sure(keep, work):
        with keeping(keep, work):
            amount = read(f"{place}.amount", name="One filling", low=1.0)
            add_mould(
                library(),
                name,
                volume_ml=amount if way == WATER else None,
                fill_weight_g=amount if way == WET else None,
                cement_g=amount if way == DRY else None,
            )
            work.drop()
            return True
    return False


def scale_form(place: str) -> bool:
    """The step of the scale that weighs pigment: one tap."""
    now = defaults(library()).scale_step_g
    with st.container(horizontal=True):
        for step in STEPS_G:
            if st.button(f"{step:g} g", key=f"{place}.{step:g}", type="primary" if step == now else "secondary"):
                with guard():
                    set_defaults(library(), scale_step_g=step)
                    return True
    return False


def price_and_stock_fields(place: str, work: Work, stock: str = "Stock") -> None:
    """What a bag or jar costs, and how much is in it."""
    number_field("Price", f"{place}.price", unit=f"{defaults(library()).currency} per kg", work=work)
    number_field(stock, f"{place}.stock", unit="g", work=work)


def price_and_stock(key: str) -> tuple[float | None, float | None]:
    """What was typed in them."""
    price = read_if_any(f"{key}.price", name="The price", unit=defaults(library()).currency, high=100_000)
    return price, read_if_any(f"{key}.stock", name="The stock", high=1_000_000)


def most_load(key: str) -> float | None:
    """The maximum of a jar's data sheet as typed, in per cent; g per g of cement, None where it names none."""
    most = read_if_any(key, name="The maximum", unit="%", high=10.0)
    if most == 0:
        raise InputError("The maximum is 0 %; leave it empty where the data sheet names none.")
    return None if most is None else most / 100


def _labels(materials: Mapping[str, object]) -> dict[str, str]:
    return {name: str(getattr(material, "label", name)) for name, material in materials.items()}
