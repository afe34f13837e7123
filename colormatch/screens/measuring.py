"""Measuring a shade anywhere: a photograph that measures itself once it is marked, or numbers that were typed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import streamlit as st
from PIL.Image import Image

from colormatch.arrays import FloatArray
from colormatch.colorimetry import hex_to_lab, reflectance_to_lab
from colormatch.errors import ColormatchError
from colormatch.library import ShadeRecord, Swatch
from colormatch.loads import per_cent
from colormatch.photo import (
    CameraProfile,
    Chart24,
    GreyCard,
    KnownSwatches,
    Photo,
    Reference,
    Surface,
    TileBoard,
    from_fractions,
)
from colormatch.photo.measure import measure_picture
from colormatch.render import proof_picture
from colormatch.saying import capital
from colormatch.screens.blocks import small
from colormatch.screens.cameras import keep_camera, known_camera
from colormatch.screens.chart_of_hers import which_chart
from colormatch.screens.decoded import decoded
from colormatch.screens.drawing import plain, show_table
from colormatch.screens.guard import guard
from colormatch.screens.marking import Tool, mark_photograph, marks_as_numbers, marks_on
from colormatch.screens.photographing import photograph_asked, put_away
from colormatch.screens.state import Marks, Measurement, Upload, Wanted, in_hand, start_with
from colormatch.screens.studios import library, marks_of_photograph
from colormatch.screens.tile_board import board_part
from colormatch.screens.typed_numbers import keeping, lab_fields, read_lab, sure
from colormatch.screens.work import Work
from colormatch.shade import Shade
from colormatch.studio import MEASURED
from colormatch.workshop.charts import own_chart
from colormatch.workshop.lights import spectra_of
from colormatch.workshop.tile_board import own_board

HOW = "Put the piece and a 24-patch chart side by side in soft, even light, fill the frame, and photograph both."
PROOF = "What was measured: before correction on the left, after it on the right"
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
BOARD, SWATCH, NOTHING = "My tile board", "A swatch of mine", "Nothing"
REFERENCES = {
    CHART: "best: corrects colour, brightness and uneven light",
    BOARD: "nearly as good: my own measured tiles in the printed frame",
    GREY: "reflectance 0.18: corrects the light's colour and brightness",
    WHITE: "reflectance about 0.85: as the grey card, rougher",
    SWATCH: "its measured shade is in the library",
    NOTHING: "the camera's own colours: a guess",
}
NO_BOARD = "There is no tile board yet. Measure yours once, with the chart beside it, or choose another reference."
# What such cards are sold as (grey 18 %), and of white paper; from memory.
CARD_REFLECTANCE = {GREY: 0.18, WHITE: 0.85}


def shade_asked(
    place: str, question: str = "", *, two_tones: bool = False, state: str = "", about: str = ""
) -> list[Wanted]:
    """Ask for a shade; the answers, one for each tone, or none yet.

    A photograph is measured by itself as soon as everything is marked. place, about: the name of the work in the
    library, which finds it again. state: photographs of pieces in this state are offered first; without one, those
    of wanted shades.
    """
    work = Work(place, about)
    in_hand().asked.pop(place, None)
    in_hand().measured.pop(place, None)
    work.say()
    given = work.get("given")
    if given:
        _given(work, given)
        in_hand().asked[place] = [
            Wanted(
                Shade(given["lab"], covariance=np.array(given["covariance"])),
                given["origin"],
                spectrum=tuple(given["spectrum"]) if given.get("spectrum") else None,
            )
        ]
        return in_hand().asked[place]
    upload = photograph_asked(place, state, about)
    if upload is None:
        small(question or HOW)
        with st.expander("Without a photograph: type the shade"):
            _from_numbers(work)
            _from_spectrum(work)
        return []
    _from_photograph(work, upload, two_tones, wanted=not state)
    return in_hand().asked.get(place, [])


def forget_answer(place: str, about: str = "") -> None:
    """Ask anew at a place: what was measured there has been kept."""
    Work(place, about).drop()
    in_hand().asked.pop(place, None)
    in_hand().measured.pop(place, None)


def give_shade(place: str, shade: Shade, origin: str, about: str = "", spectrum: Sequence[float] | None = None) -> None:
    """Answer with a shade that is known already: typed, of a swatch, or of a spectrum (31,), which goes with it."""
    covariance = [[float(x) for x in row] for row in shade.covariance]
    given = {"lab": [float(x) for x in shade.lab], "covariance": covariance, "origin": origin}
    if spectrum is not None:
        given["spectrum"] = [float(x) for x in spectrum]
    Work(place, about).put(given=given, photograph=None)


def _given(work: Work, given: Mapping[str, Any]) -> None:
    left, right = st.columns([3, 2], vertical_alignment="center")
    left.markdown(plain(f"{capital(given['origin'])}."))
    with right:
        another(work, "Another shade")


def another(work: Work, label: str = "Take another") -> None:
    """The way to another photograph or shade; undo brings the one in hand back."""
    if st.button(label, type="tertiary", key=f"{work.what}.another"):
        put_away(work.what, work.key)
        st.rerun()


def _from_photograph(work: Work, upload: Upload, two_tones: bool, *, wanted: bool) -> None:
    place, about = work.what, work.key
    start = marks_of_photograph(upload)
    marked = marks_on(place, upload, about, start)
    reference = work.get("reference", CHART)
    two = two_tones and bool(work.get("two", False))
    swatches = _measured_swatches() if reference == SWATCH else {}
    swatch = swatches.get(work.get("known", next(iter(swatches), "")))
    surface: Surface = "anything" if wanted and work.get("anything", False) else "cement"
    outcome = _outcome(upload, reference, _tools(work, reference, two, bool(swatches)), swatch, marked, surface)
    tools = _tools(work, reference, two, bool(swatches), corners=isinstance(outcome, str))
    mark_photograph(place, upload, tools, start, about, numbers=False)
    with st.container(horizontal=True, vertical_alignment="center", key=f"below-{place}"):
        small(_photograph_words(outcome, reference))
        another(work)

    def in_the_frame() -> None:
        with st.expander(plain(f"In the frame: {reference.lower()}"), expanded=isinstance(outcome, str)):
            _circumstances(work, two_tones, reference, swatches)
            if wanted:
                st.toggle("It is not cement, but a leaf, cloth, paint …", **work.field("anything", False))
            if reference == BOARD:
                board_part(place, upload)
            if st.toggle("Marks as numbers", key=start_with(f"{place}.numbers", False)):
                marks_as_numbers(place, upload, tools, start, about)

    if isinstance(outcome, Measurement):
        for sentence in _said(outcome)[:1]:
            st.warning(plain(sentence))
        in_hand().measured[place] = replace(outcome, fold=in_the_frame)
        in_hand().asked[place] = [Wanted(photo.shade, f"measured in {upload.name}", upload) for photo in outcome.photos]
        return
    if outcome:
        st.error(plain(outcome))
    in_the_frame()


def _tools(work: Work, reference: str, two: bool, known: bool, corners: bool = False) -> list[Tool]:
    """What there is to mark: the shades, then what tells their colour."""
    tools = [REGION, SECOND] if two else [REGION]
    if reference == CHART and (corners or work.get("by_hand", False)):
        tools.append(CORNERS)
    if reference in CARD_REFLECTANCE:
        tools.append(CARD)
    if reference == SWATCH and known:
        tools.append(KNOWN)
    return tools


def _photograph_words(outcome: Measurement | str | None, reference: str) -> str:
    if outcome is None:
        return ""  # the picture itself says what to mark
    if isinstance(outcome, str):
        return "Not measured yet."
    found = "chart found" if reference == CHART else reference.lower()
    return f"{found}, good light" if not _said(outcome) else found


def _said(measurement: Measurement) -> list[str]:
    """What to mind about a measurement, the gravest first."""
    return list(dict.fromkeys(sentence for photo in measurement.photos for sentence in photo.warnings))


def _circumstances(work: Work, two_tones: bool, reference: str, swatches: Mapping[str, Shade]) -> None:
    """What else is in the frame, and what the maker can say about it."""
    st.selectbox(
        "What tells the colour of the light", list(REFERENCES), **work.field("reference", CHART, among=REFERENCES)
    )
    small(f"{capital(REFERENCES[reference])}.")
    if two_tones:
        st.toggle("The piece has two tones", **work.field("two", False))
    if reference == CHART:
        which_chart(work.what)
        st.toggle("Mark the chart's corners by hand", **work.field("by_hand", False))
    if reference == SWATCH and not swatches:
        st.info("No swatch has a measured dry shade yet.")
    if swatches:
        names = {each.uid: each.name for each in library().list(Swatch)}
        st.selectbox(
            "Which one", list(swatches), format_func=lambda uid: names[uid],
            **work.field("known", next(iter(swatches)), among=swatches),
        )  # fmt: skip


def _measured_swatches() -> dict[str, Shade]:
    """The maker's own swatches that may lie in the frame: those measured dry."""
    shades = library().list(ShadeRecord, state="dry")
    return {each.swatch_uid: each.shade() for each in shades
            if each.swatch_uid and each.provenance.get("kind") == MEASURED}  # fmt: skip


def _outcome(
    upload: Upload, reference: str, tools: Sequence[Tool], swatch: Shade | None, marks: Marks, surface: Surface
) -> Measurement | str | None:
    """The photograph measured; why it cannot be; or None while something is still to be marked."""
    names = [tool.name for tool in tools]
    if any(name not in marks for name in names) or (reference == SWATCH and swatch is None):
        return None
    board = own_board(library()) if reference == BOARD else None
    if reference == BOARD and board is None:
        return NO_BOARD
    used = {name: marks[name] for name in names}
    if reference == CHART and "corners" in marks:
        used["corners"] = marks["corners"]
    facts = decoded(upload).facts
    profile = None if reference == CHART else known_camera(facts.model)
    chart = own_chart(library())
    stamp = (upload.sha256, reference, surface, sorted(used.items()), None if swatch is None else swatch.lab.tolist(),
             chart.values, chart.edition, None if profile is None else profile.charts,
             [each and each.lab.tolist() for each in (board.shades if board else ())])  # fmt: skip
    size = (facts.width, facts.height)
    chosen = reference_of(reference, used, size, chart, swatch, board)
    found = _measured(repr(stamp), upload, used, size, chosen, profile, surface)
    return found if isinstance(found, str) else Measurement(upload, found, reference)


@st.cache_resource(max_entries=6, show_spinner="Measuring")
def _measured(
    stamp: str,
    _upload: Upload,
    _marks: Marks,
    _size: tuple[int, int],
    _reference: Reference | None,
    _profile: CameraProfile | None,
    _surface: Surface,
) -> tuple[Photo, ...] | str:
    """Measured once for each stamp; what stood in the way, in words, is remembered as well."""
    regions = [from_fractions(_marks[name], _size) for name in (REGION.name, SECOND.name) if name in _marks]
    try:
        surfaces = [_surface] * len(regions)
        photos = measure_picture(
            decoded(_upload), regions=regions, reference=_reference, profile=_profile, surfaces=surfaces
        )
    except ColormatchError as error:
        return str(error)
    return tuple(photos)


def reference_of(
    reference: str,
    marks: Marks,
    size: tuple[int, int],
    chart: Chart24,
    swatch: Shade | None = None,
    board: TileBoard | None = None,
) -> Reference | None:
    """What tells the colour of the light, for the measurement; None for nothing."""
    if reference == CHART:
        corners = marks.get("corners")
        return chart if corners is None else replace(chart, corners=from_fractions(np.reshape(corners, (4, 2)), size))
    if reference in CARD_REFLECTANCE:
        return GreyCard(from_fractions(marks["card"], size), CARD_REFLECTANCE[reference])
    if reference == BOARD:
        return board
    if swatch is not None:
        return KnownSwatches([(from_fractions(marks["known"], size), swatch)])
    return None


def show_trust(place: str) -> None:
    """What is in the frame, and how far to trust what was measured, in folds; nothing for a shade that was given."""
    measurement = in_hand().measured.get(place)
    if measurement is None:
        return
    photos = measurement.photos
    measurement.fold()
    rows = [["Uncertainty of each number", *(f"± {photo.shade.sd:.1f}" for photo in photos)]]
    rows.append(["Scatter within the region", *(f"dE00 {photo.spread:.1f}" for photo in photos)])
    rows.append(["Pixels left out (pits, glints)", *(per_cent(1 - photo.kept, 0) for photo in photos)])
    if not math.isnan(photos[0].reference_error):
        rows.append(["Chart check", *(f"dE00 {photo.reference_error:.1f}" for photo in photos)])
    with st.expander("How far to trust the measurement"):
        for sentence in _said(measurement)[1:]:  # the first, the gravest, stands under the photograph
            st.warning(plain(sentence))
        show_table([], rows)
        if st.toggle("Draw what was measured", key=start_with(f"{place}.proof", False)):
            st.image(_proof(measurement.stamp, measurement), caption=PROOF)
        taught = photos[0].profile
        if taught is not None and st.button("Keep what the chart taught about this camera", key=f"{place}.camera"):
            with guard():
                charts = keep_camera(taught).charts
                st.success(plain(f"{taught.model}: {charts} charts are known. A grey card alone now measures better."))


@st.cache_resource(max_entries=2, show_spinner="Drawing what was measured")
def _proof(stamp: str, _measurement: Measurement) -> Image:
    return proof_picture(decoded(_measurement.upload), _measurement.photos)


def _from_numbers(work: Work) -> None:
    place, typed = work.what, Work("form shade", f"{work.what}/{work.key}")
    typed.say()
    left, right = st.columns(2)
    with left:
        st.markdown("**CIELAB** (D65, 2° observer)")
        lab_fields(place, (55.0, 15.0, 18.0, 0.0), typed)
        if st.button("Take this shade", key=f"{place}.lab") or sure(f"{place}.lab", typed):
            with keeping(f"{place}.lab", typed):
                give_shade(place, read_lab(place), "typed as CIELAB", work.key)
                typed.drop()
                st.rerun()
    with right:
        st.markdown("**Screen colour**")
        text = st.text_input("Six hexadecimal digits", **typed.field("digits", "#b0603a"))
        if st.button("Take this colour", key=f"{place}.hex"):
            with guard():
                give_shade(place, Shade(hex_to_lab(text)), f"the screen colour {text}", work.key)
                typed.drop()
                st.rerun()


def _from_spectrum(work: Work) -> None:
    """A shade from an instrument's file: known best, and under any light."""
    st.markdown("**From a spectrophotometer**")
    given = spectrum_asked(work.what)
    if given and st.button("Take this spectrum", key=f"{work.what}.spectrum.take"):
        name, spectrum = given
        with guard():
            shade = Shade(reflectance_to_lab(spectrum))
            give_shade(work.what, shade, f"the spectrum {name}", work.key, spectrum.tolist())
            st.rerun()


def spectrum_asked(key: str) -> tuple[str, FloatArray] | None:
    """A spectrum of an instrument's file, reflectance factors (31,), with its name there; None: no file yet."""
    given = st.file_uploader(
        "Its text file, or a table: wavelengths in nm, reflectance", type=["csv", "tsv", "txt"], key=f"{key}.spectrum"
    )
    if given is None:
        return None
    with guard():
        found = spectra_of(given.name, given.getvalue())
        name = next(iter(found))
        if len(found) > 1:
            name = st.selectbox("Which one", list(found), key=f"{key}.sample")
        return name, found[name]
    return None
