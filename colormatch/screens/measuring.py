"""Measuring a shade on any page: a photograph with its marks and its reference, or numbers that were typed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from hashlib import sha256
from typing import Any

import numpy as np
import streamlit as st
from PIL.Image import Image

from colormatch.colorimetry import hex_to_lab
from colormatch.library import ShadeRecord, Swatch
from colormatch.photo import (
    Chart24,
    GreyCard,
    KnownSwatches,
    from_fractions,
    measure_regions,
    picture_facts,
)
from colormatch.render import proof_picture
from colormatch.screens.cameras import keep_camera, known_camera
from colormatch.screens.drawing import plain, show_table
from colormatch.screens.guard import guard
from colormatch.screens.marking import Tool, mark_photograph, marks_on
from colormatch.screens.state import Marks, Measurement, Upload, Wanted, in_hand, put, start_with, studio
from colormatch.screens.studios import library, marks_of_photograph, photograph, photograph_names
from colormatch.shade import Shade
from colormatch.studio import MEASURED

PHOTOGRAPH, NUMBERS = "From a photograph", "From numbers"
FILES = ["jpg", "jpeg", "png", "tif", "tiff", "webp", "heic"]
REGION = Tool(
    "region", "Shade", "box", "Drag over a plain, evenly lit part of the piece, or tap it. Leave out edges and glints."
)
SECOND = Tool("second", "Second tone", "box", "Drag over a plain part of the second tone, or tap it.")
CORNERS = Tool(
    "corners",
    "Chart corners",
    "corners",
    "Tap the four outer corners of the patches, clockwise, beginning at the dark-skin (brown) patch.",
)
CARD = Tool("card", "Card or sheet", "box", "Drag over the grey card or the white sheet, or tap it.")
KNOWN = Tool("known", "My swatch", "box", "Drag over the swatch whose shade is known, or tap it.")
CHART, GREY, WHITE = "24-patch chart", "Grey card", "Plain white sheet"
SWATCH, NOTHING = "A swatch of mine", "Nothing"
REFERENCES = {
    CHART: "best: corrects colour, brightness and uneven light",
    GREY: "reflectance 0.18: corrects the light's colour and brightness",
    WHITE: "reflectance about 0.85: as the grey card, rougher",
    SWATCH: "its measured shade is in the library",
    NOTHING: "the camera's own colours: a guess",
}
CARD_REFLECTANCE = {GREY: 0.18, WHITE: 0.85}


def shade_asked(
    place: str, question: str, *, two_tones: bool = False, state: str = "", about: str = ""
) -> list[Wanted]:
    """Ask for a shade, from a photograph or from numbers; the latest answers, one for each tone, or none.

    state: photographs of pieces in this state are offered first; without one, those of wanted shades.
    about: which piece it is; the shade of another one is never taken for it.
    """
    if in_hand().about.get(place, about) != about:
        forget_answer(place)
    in_hand().about[place] = about
    way = st.radio(question, [PHOTOGRAPH, NUMBERS], horizontal=True, key=start_with(f"{place}.way", PHOTOGRAPH))
    if way == NUMBERS:
        _from_numbers(place)
    else:
        _from_photograph(place, two_tones, state)
    return in_hand().asked.get(place, [])


def forget_answer(place: str) -> None:
    """Ask anew at a place: what was measured there has been kept, or is of another piece."""
    in_hand().asked.pop(place, None)
    in_hand().measured.pop(place, None)


def _from_photograph(place: str, two_tones: bool, state: str) -> None:
    upload = photograph_asked(place, state)
    if upload is None:
        st.info("Put the piece and a 24-patch chart side by side in even shade, fill the frame, and photograph both.")
        return
    left, right = st.columns(2)
    reference = left.radio(
        "What else is in the frame",
        list(REFERENCES),
        captions=list(REFERENCES.values()),
        key=start_with(f"{place}.reference", CHART),
    )
    tools = [REGION]
    if two_tones and right.checkbox("The piece has two tones", key=start_with(f"{place}.two", False)):
        tools.append(SECOND)
    by_hand = start_with(f"{place}.by_hand", False)
    if reference == CHART and right.checkbox("Mark the chart's corners by hand", key=by_hand):
        tools.append(CORNERS)
    if reference in CARD_REFLECTANCE:
        tools.append(CARD)
    swatch = _known_swatch(right, place) if reference == SWATCH else None
    if swatch is not None:
        tools.append(KNOWN)
    mark_photograph(place, upload, tools, marks_of_photograph(upload))
    if st.button("Measure", type="primary", key=f"{place}.measure"):
        with guard(), st.spinner("Measuring"):
            _measure(place, upload, reference, tools, swatch)


def photograph_asked(place: str, state: str) -> Upload | None:
    """Ask for a photograph, uploaded or of the library; those of pieces in `state` are offered first."""
    left, right = st.columns(2)
    file = left.file_uploader("Photograph", FILES, key=f"{place}.file")
    if file is not None:
        content = file.getvalue()
        sent = Upload(sha256(content).hexdigest(), file.name, content)
        if in_hand().uploads.get(place) != sent:
            in_hand().uploads[place] = sent
            put(f"{place}.library", "")
    sent_before = in_hand().uploads.get(place)
    names = {"": "the one uploaded" if sent_before else "none"} | photograph_names(state)
    first = next((uid for uid in names if uid), "") if studio() == "demo" else ""
    key = start_with(f"{place}.library", first)
    chosen = right.selectbox("or one from the library", list(names), format_func=names.__getitem__, key=key)
    return photograph(chosen) if chosen else sent_before


def _known_swatch(column: Any, place: str) -> Shade | None:
    """Choose one of the maker's own swatches that lies in the frame; None while there is none."""
    names = {each.uid: each.name for each in library().list(Swatch)}
    shades = {
        each.uid: each
        for each in library().list(ShadeRecord, state="dry", swatch_uid=list(names))
        if each.provenance.get("kind") == MEASURED
    }
    if not shades:
        column.info("No swatch has a measured dry shade yet.")
        return None
    chosen = column.selectbox(
        "Which one",
        list(shades),
        format_func=lambda uid: names[shades[uid].swatch_uid or ""],
        key=start_with(f"{place}.known", next(iter(shades))),
    )
    return shades[chosen].shade()


def _measure(place: str, upload: Upload, reference: str, tools: Sequence[Tool], swatch: Shade | None) -> None:
    names = {tool.name for tool in tools}
    marks = {name: mark for name, mark in marks_on(place, upload).items() if name in names}
    missing = [tool.label.lower() for tool in tools if tool.name not in marks]
    if missing:
        st.error(f"Not marked yet: {' and '.join(missing)}. Choose it above the picture, then mark it in the picture.")
        return
    facts = picture_facts(upload.content)
    size = (facts.width, facts.height)
    regions = [from_fractions(marks[tool.name], size) for tool in tools if tool in (REGION, SECOND)]
    photos = measure_regions(
        upload.content,
        regions=regions,
        reference=_reference(reference, marks, size, swatch),
        profile=None if reference == CHART else known_camera(facts.model),
    )
    in_hand().measured[place] = Measurement(upload, tuple(photos), reference)
    in_hand().asked[place] = [Wanted(photo.shade, f"measured in {upload.name}", upload) for photo in photos]


def _reference(
    reference: str, marks: Marks, size: tuple[int, int], swatch: Shade | None
) -> Chart24 | GreyCard | KnownSwatches | None:
    if reference == CHART:
        corners = marks.get("corners")
        return Chart24(None if corners is None else from_fractions(np.reshape(corners, (4, 2)), size))
    if reference in CARD_REFLECTANCE:
        return GreyCard(from_fractions(marks["card"], size), CARD_REFLECTANCE[reference])
    if swatch is not None:
        return KnownSwatches([(from_fractions(marks["known"], size), swatch)])
    return None


def show_trust(place: str) -> None:
    """How far to trust what was measured at a place, with a picture of it; nothing for typed numbers."""
    measurement = in_hand().measured.get(place)
    if measurement is None or in_hand().asked[place][0].photograph is None:
        return
    photos = measurement.photos
    for sentence in dict.fromkeys(sentence for photo in photos for sentence in photo.warnings):
        st.warning(plain(sentence))
    rows = [["Doubt of the shade", *(f"± {photo.shade.sd:.1f}" for photo in photos)]]
    rows.append(["Scatter within the region", *(f"dE00 {photo.spread:.1f}" for photo in photos)])
    rows.append(["Pixels left out (pits, glints)", *(f"{1 - photo.kept:.0%}" for photo in photos)])
    if not math.isnan(photos[0].reference_error):
        rows.append(["Each reference told from the others", *(f"dE00 {photo.reference_error:.1f}" for photo in photos)])
    with st.expander("How far to trust the measurement", expanded=place == "shade"):
        show_table([], rows)
        proof = _proof(measurement.stamp, measurement)
        st.image(proof, caption="What was measured: before correction on the left, after it on the right")
        taught = photos[0].profile
        if taught is not None and st.button("Keep what the chart taught about this camera", key=f"{place}.camera"):
            with guard():
                charts = keep_camera(taught).charts
                st.success(plain(f"{taught.model}: {charts} charts are known. A grey card alone now measures better."))


@st.cache_resource(max_entries=2, show_spinner="Drawing what was measured")
def _proof(stamp: str, _measurement: Measurement) -> Image:
    return proof_picture(_measurement.upload.content, _measurement.photos)


def _from_numbers(place: str) -> None:
    left, right = st.columns(2)
    with left.form(f"{place}.lab"):
        st.markdown("**CIELAB** (D65, 2° observer)")
        fields = [("L*", 0.0, 100.0, 55.0), ("a*", -128.0, 128.0, 15.0), ("b*", -128.0, 128.0, 18.0)]
        columns = st.columns(4)
        typed = [
            column.number_input(label, low, high, step=0.5, format="%.1f", key=start_with(f"{place}.{label}", start))
            for column, (label, low, high, start) in zip(columns, [*fields, ("sd", 0.0, 20.0, 0.0)], strict=True)
        ]
        if st.form_submit_button("Take this shade"):
            with guard():
                _take(place, Shade(typed[:3], sd=typed[3]), "typed as CIELAB")
    with right.form(f"{place}.hex"):
        st.markdown("**Screen colour**")
        text = st.text_input("Six hexadecimal digits", key=start_with(f"{place}.digits", "#b0603a"))
        if st.form_submit_button("Take this colour"):
            with guard():
                _take(place, Shade(hex_to_lab(text)), f"the screen colour {text}")


def _take(place: str, shade: Shade, origin: str) -> None:
    in_hand().asked[place] = [Wanted(shade, origin)]
    in_hand().measured.pop(place, None)
