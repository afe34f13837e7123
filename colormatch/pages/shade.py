"""Shade: a photograph with a reference, or numbers, become the wanted shade."""

from __future__ import annotations

import math
from hashlib import sha256

import numpy as np
import streamlit as st

from colormatch.colorimetry import hex_to_lab
from colormatch.pages.drawing import Chip, plain, show_chips, show_table
from colormatch.pages.guard import guard
from colormatch.pages.marking import Tool, mark_photograph, marks_on
from colormatch.pages.routes import onward
from colormatch.pages.state import Marks, Upload, Wanted, in_hand, put, start_with, studio
from colormatch.pages.studios import marks_of_photograph, photograph, photograph_names
from colormatch.photo import Chart24, GreyCard, from_fractions, measure_regions, picture_facts
from colormatch.shade import Shade

PHOTOGRAPH, NUMBERS = "From a photograph", "From numbers"
REGION = Tool(
    "region", "Shade", "box", "Drag over a plain, evenly lit part of the piece, or tap it. Leave out edges and glints."
)
SECOND = Tool("second", "Second tone", "box", "Drag over a plain part of the second tone, or tap it.")
CORNERS = Tool(
    "corners", "Chart corners", "corners",
    "Tap the four outer corners of the patches, clockwise, beginning at the dark-skin (brown) patch.",
)  # fmt: skip
CARD = Tool("card", "Card or sheet", "box", "Drag over the grey card or the white sheet, or tap it.")
CHART, GREY, WHITE, NOTHING = "24-patch chart", "Grey card", "Plain white sheet", "Nothing"
FILES = ["jpg", "jpeg", "png", "tif", "tiff", "webp", "heic"]
REFERENCES = {
    CHART: "best: corrects colour, brightness and uneven light",
    GREY: "reflectance 0.18: corrects the light's colour and brightness",
    WHITE: "reflectance about 0.85: as the grey card, rougher",
    NOTHING: "the camera's own colours: a guess",
}
CARD_REFLECTANCE = {GREY: 0.18, WHITE: 0.85}


def page() -> None:
    st.title("Shade")
    way = st.radio(
        "Where the wanted shade comes from",
        [PHOTOGRAPH, NUMBERS],
        horizontal=True,
        key=start_with("shade.way", PHOTOGRAPH),
    )
    if way == PHOTOGRAPH:
        _from_photograph()
    else:
        _from_numbers()
    with guard():
        _wanted()


def _from_photograph() -> None:
    upload = _photograph()
    if upload is None:
        st.info("Put the piece and a 24-patch chart side by side in even shade, fill the frame, and photograph both.")
        return
    left, right = st.columns(2)
    reference = str(
        left.radio("What else is in the frame", list(REFERENCES), captions=list(REFERENCES.values()),
                   key=start_with("shade.reference", CHART))
    )  # fmt: skip
    tools = [REGION]
    if right.checkbox("The piece has two tones", key=start_with("shade.two", False)):
        tools.append(SECOND)
    if reference == CHART and right.checkbox(
        "Mark the chart's corners by hand", key=start_with("shade.by_hand", False)
    ):
        tools.append(CORNERS)
    if reference in CARD_REFLECTANCE:
        tools.append(CARD)
    mark_photograph("shade", upload, tools, marks_of_photograph(upload))
    if st.button("Measure", type="primary", key="shade.measure"):
        with guard(), st.spinner("Measuring"):
            _measure(upload, reference, tools)
    _measured()


def _photograph() -> Upload | None:
    left, right = st.columns(2)
    file = left.file_uploader("Photograph", FILES, key="shade.file")
    if file is not None:
        content = file.getvalue()
        sent = Upload(sha256(content).hexdigest(), file.name, content)
        if in_hand().upload != sent:
            in_hand().upload = sent
            put("shade.library", "")
    names = {"": "the one uploaded" if in_hand().upload else "none"} | photograph_names()
    first = next((uid for uid in names if uid), "") if studio() == "demo" else ""
    key = start_with("shade.library", first)
    chosen = right.selectbox("or one from the library", list(names), format_func=names.__getitem__, key=key)
    return photograph(chosen) if chosen else in_hand().upload


def _measure(upload: Upload, reference: str, tools: list[Tool]) -> None:
    names = {tool.name for tool in tools}
    marks = {name: mark for name, mark in marks_on("shade", upload).items() if name in names}
    missing = [tool.label.lower() for tool in tools if tool.name not in marks]
    if missing:
        st.error(f"Not marked yet: {' and '.join(missing)}. Choose it above the picture, then mark it in the picture.")
        return
    facts = picture_facts(upload.content)
    size = (facts.width, facts.height)
    hand = in_hand()
    hand.measured = measure_regions(
        upload.content,
        regions=[from_fractions(marks[tool.name], size) for tool in tools if tool in (REGION, SECOND)],
        reference=_reference(reference, marks, size),
    )
    wanted = [Wanted(photo.shade, f"measured in {upload.name}", upload) for photo in hand.measured]
    hand.wanted = wanted[0]
    hand.second_tone = wanted[1] if len(wanted) > 1 else None


def _reference(reference: str, marks: Marks, size: tuple[int, int]) -> Chart24 | GreyCard | None:
    if reference == CHART:
        corners = marks.get("corners")
        return Chart24(None if corners is None else from_fractions(np.reshape(corners, (4, 2)), size))
    if reference in CARD_REFLECTANCE:
        return GreyCard(from_fractions(marks["card"], size), CARD_REFLECTANCE[reference])
    return None


def _measured() -> None:
    """What is to be known of the measurement: warnings, and how far to trust it."""
    photos = in_hand().measured
    if not photos:
        return
    for sentence in dict.fromkeys(sentence for photo in photos for sentence in photo.warnings):
        st.warning(plain(sentence))
    first = photos[0]
    rows = [["Doubt of the shade", *(f"± {photo.shade.sd:.1f}" for photo in photos)]]
    rows.append(["Scatter within the region", *(f"dE00 {photo.spread:.1f}" for photo in photos)])
    rows.append(["Pixels left out (pits, glints)", *(f"{1 - photo.kept:.0%}" for photo in photos)])
    if not math.isnan(first.reference_error):
        rows.append(
            ["Each reference told from the others", f"dE00 {first.reference_error:.1f}"] + [""] * (len(photos) - 1)
        )
    with st.expander("How far to trust it", expanded=True):
        show_table([], rows)


def _from_numbers() -> None:
    left, right = st.columns(2)
    with left.form("shade.lab"):
        st.markdown("**CIELAB** (D65, 2° observer)")
        columns = st.columns(4)
        fields = [
            ("L*", 0.0, 100.0, 55.0),
            ("a*", -128.0, 128.0, 15.0),
            ("b*", -128.0, 128.0, 18.0),
            ("sd", 0.0, 20.0, 0.0),
        ]
        typed = [
            column.number_input(label, low, high, step=0.5, format="%.1f", key=start_with(f"shade.{label}", start))
            for column, (label, low, high, start) in zip(columns, fields, strict=True)
        ]
        if st.form_submit_button("Want this shade"):
            with guard():
                _want(Shade(typed[:3], sd=typed[3]), "typed as CIELAB")
    with right.form("shade.hex"):
        st.markdown("**Screen colour**")
        text = st.text_input("Six hexadecimal digits", key=start_with("shade.digits", "#b0603a"))
        if st.form_submit_button("Want this colour"):
            with guard():
                _want(Shade(hex_to_lab(text)), f"the screen colour {text}")


def _want(shade: Shade, origin: str) -> None:
    in_hand().wanted, in_hand().second_tone, in_hand().measured = Wanted(shade, origin), None, []


def _wanted() -> None:
    wanted, second = in_hand().wanted, in_hand().second_tone
    if wanted is None:
        return
    st.subheader("The wanted shade")
    chips = [Chip("Wanted", wanted.shade, wanted.origin)]
    chips += [Chip("Second tone", second.shade, second.origin)] if second else []
    show_chips(chips)
    onward("recipe", "Find recipes for it")


with guard():
    page()
