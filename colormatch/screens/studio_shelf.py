"""The shelf: every bag and jar as a card, with what it does to the cement in small."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date
from html import escape

import streamlit as st

from colormatch.colorimetry import lab_to_hex
from colormatch.library import CementLot, PigmentLot, StockWarning, TileRecord, stock_warnings
from colormatch.palette import Palette
from colormatch.screens.blocks import card, caution, chip, grid, head_and_button, no_chip, small
from colormatch.screens.drawing import show_cautions
from colormatch.screens.material_form import lots_part, material_form
from colormatch.screens.routes import asked, say_where, turn_to
from colormatch.screens.short_forms import bag_form, jar_form
from colormatch.screens.studios import library, palette
from colormatch.screens.tiles_sure import tints_of
from colormatch.starter import starter_palette
from colormatch.workshop.shelf import Defaults, Material, defaults, shelf

CAUTIONS = (
    "Cement may hold silica and chromium VI: mind the date on the bag, and close it tight.",
    "Follow the safety data sheet of every material, and your local rules.",
)


def shelf_part() -> None:
    """The bags, the jars, and what was used up."""
    here, known, usual = shelf(library()), palette(), defaults(library())
    warnings = stock_warnings(library(), date.today())
    st.header("Cement")
    with grid("cements"):
        for bag in here.cements:
            _card(bag, known, _bag_line(bag, usual), warnings)
    _add("bag", "Add a bag", first=not here.cements)
    st.header("Jars")
    base = next((each.uid for each in here.cements if each.uid in known.bases), None)
    tested = Counter(name for tile in library().list(TileRecord) for name in tile.loads)
    with grid("jars"):
        for jar in here.pigments:
            line = _jar_line(jar, tested[jar.uid], usual.currency)
            _card(jar, known, line, warnings, base, tested=bool(tested[jar.uid]))
    _add("jar", "Add a jar", first=bool(here.cements) and not here.pigments)
    _gone(here.names)
    show_cautions(CAUTIONS)


def _card(
    material: Material, known: Palette, line: str, warnings: Sequence[StockWarning], base: str | None = None, *,
    tested: bool = True,
) -> None:  # fmt: skip
    opened = asked("item") == material.uid
    with card(f"shelf-{material.uid}"):
        label = "Close" if opened else "Edit"
        mark = _plain(material, known) if material.uid in known.bases else ""
        if head_and_button(material.name, line, label, f"shelf.{material.uid}", mark=mark, type="tertiary"):
            _open("" if opened else material.uid)
        if material.uid in known.pigments and not (tested or material.like):
            small("Its colour is not known until a tile of it is cast.")
        elif base is not None and material.uid in known.pigments:
            st.html(_ladder(material, known, base))
        lots = {material.uid, *(lot.uid for lot in material.lots)}
        for warning in warnings:
            if warning.uid in lots:
                caution(warning.sentence)
        if opened:
            material_form(material)
            lots_part(material)


def _plain(material: Material, known: Palette) -> str:
    shade = known.predict({}, material.uid)
    return chip(shade.lab, f"{material.name} without pigment, dry")


def _ladder(material: Material, known: Palette, base: str) -> str:
    """The jar at rising loads in her cement, dry, up to its own maximum."""
    loads = tints_of(known, material.uid)
    place = list(known.pigments).index(material.uid)
    rows = [[load if number == place else 0.0 for number in range(len(known.pigments))] for load in loads]
    steps = "".join(
        f'<span><i style="background:{lab_to_hex(lab)}"></i>{100 * load:g} %</span>'
        for load, lab in zip(loads, known.predict_many(rows, base=base), strict=True)
    )
    says = f"{material.name} in {known.label(base)}, dry, at {', '.join(f'{100 * each:g} %' for each in loads)}"
    return f'<div class="ladder" role="img" aria-label="{escape(says, quote=True)}">{steps}</div>'


def _bag_line(bag: Material, usual: Defaults) -> str:
    first = ["the one forms start with"] if bag.uid == usual.cement_uid else []
    return " · ".join([*first, *_stock_words(bag, "bag", usual.currency)])


def _jar_line(jar: Material, tiles: int, currency: str) -> str:
    starter = starter_palette().pigments
    label = starter[jar.like].label if jar.like in starter else ""
    like = [f"closest to {label.lower()}"] if label and label != jar.name else []
    tested = "not tested yet" if not tiles else "one tile" if tiles == 1 else f"{tiles} tiles"
    return " · ".join([*like, tested, *_stock_words(jar, "jar", currency)])


def _stock_words(material: Material, what: str, currency: str) -> list[str]:
    words = [f"{len(material.lots)} {what}s"] if len(material.lots) > 1 else []
    if material.stock_g is not None and material.stock_g >= 0:  # more weighed than there was is said as a warning
        words.append(f"{grams_words(material.stock_g)} left")
    if material.price_per_kg is not None:
        words.append(f"{material.price_per_kg:.2f} {currency} per kg")
    return words


def grams_words(grams: float) -> str:
    """`420 g`, `18.2 kg`."""
    return f"{grams / 1000:.1f} kg" if abs(grams) >= 2000 else f"{grams:.0f} g"


def _add(what: str, label: str, *, first: bool) -> None:
    forms = {"bag": bag_form, "jar": jar_form}
    if not first and asked("item") != f"new {what}":
        st.button(label, key=f"shelf.add.{what}", on_click=say_where, kwargs={"part": "shelf", "item": f"new {what}"})
        return
    with card(f"new-{what}"):
        if first:
            small("The shelf is empty. The name on the bag is enough." if what == "bag" else
                  "No jar yet. The name on its lid is enough; recipes use only what is here.")  # fmt: skip
        if forms[what](f"shelf.{what}"):
            _open("")


def _open(item: str) -> None:
    turn_to("studio", part="shelf", **({"item": item} if item else {}))


def _gone(here: frozenset[str]) -> None:
    """What was used up: its knowledge stays, it is offered no more."""
    kinds: Mapping[str, type[CementLot] | type[PigmentLot]] = {"bag": CementLot, "jar": PigmentLot}
    lots = [(what, lot) for what, kind in kinds.items() for lot in library().list(kind) if lot.used_up_on is not None]
    if not lots:
        return
    known = palette()
    with st.expander(f"Used up ({len(lots)})"):
        for what, lot in lots:
            owner = lot.material_uid
            day = f"{lot.used_up_on:%d.%m.%Y}" if lot.used_up_on else ""
            rest = "another is on the shelf" if owner in here else "what was learned of it stays"
            if head_and_button(known.label(owner), f"{what} used up on {day}; {rest}", "Back on the shelf",
                               f"shelf.back.{lot.uid}", mark=no_chip("used up"), type="tertiary"):  # fmt: skip
                _back(lot)


def _back(lot: CementLot | PigmentLot) -> None:
    from colormatch.workshop.materials import back_on_shelf

    back_on_shelf(library(), lot)
    st.rerun()
