"""The open library and what the pages ask of it; opened once and shared by all sessions."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager

import streamlit as st

from colormatch.library import (
    Cement,
    CementLot,
    LearnedPalette,
    Library,
    Photograph,
    PigmentLot,
    PigmentRecord,
    ShadeRecord,
    Studio,
    Swatch,
    TileRecord,
    open_demo,
    open_library,
)
from colormatch.palette import Palette
from colormatch.photo import to_fractions
from colormatch.screens.state import Marks, Upload, forget_in_hand, studio
from colormatch.studio import learn_studio, newest_learned, studio_palette
from colormatch.workshop.shelf import offer, studio_of

LOCATION = "COLORMATCH_LIBRARY"  # a folder or a PostgreSQL URL; set by `colormatch page --library`
_run = threading.local()  # a run of the page has a thread of its own


@contextmanager
def one_look() -> Iterator[None]:
    """While a page is drawn, its library is looked up once, and each thing in it is read once until it changes."""
    _run.library = library()
    try:
        with _run.library.one_look():
            yield
    finally:
        del _run.library


def library() -> Library:
    """The open library: the demo studio's or the maker's own."""
    looked_up: Library | None = getattr(_run, "library", None)
    return looked_up or _opened(studio(), _location())


def _location() -> str | None:
    """Where the open library is, if not in its usual place."""
    return (os.environ.get(LOCATION) or None) if studio() == "own" else None


@st.cache_resource(max_entries=4, show_spinner="Opening the library", on_release=Library.close)
def _opened(which: str, location: str | None) -> Library:
    if which == "own":
        return open_library(location)
    demo = open_demo()
    if newest_learned(demo) is None:  # as in a studio that has worked for a while; worked out once
        learn_studio(demo)
    return demo


def settings() -> Studio:
    """The studio's own record; an unnamed one before it was filled in."""
    return studio_of(library())


def photograph_names(state: str = "") -> dict[str, str]:
    """uid -> words for the photographs in the library.

    First those of pieces in a state, or without one those of wanted shades (swatches tagged `target`).
    """
    shown = {uid: swatch for swatch in library().list(Swatch) for uid in swatch.photographs}
    if state:
        first = {shade.photograph_uid for shade in library().list(ShadeRecord, state=state)}
    else:
        first = {uid for uid, swatch in shown.items() if "target" in swatch.tags}
    names: dict[str, tuple[bool, str]] = {}
    for each in library().list(Photograph):
        file_name = each.file_name or each.uid[:8]
        words = f"{shown[each.uid].name} ({file_name})" if each.uid in shown else file_name
        names[each.uid] = (each.uid not in first, words)
    return {uid: words for uid, (_, words) in sorted(names.items(), key=lambda item: item[1])}


def photograph(uid: str) -> Upload:
    """A photograph of the library, in hand."""
    record = library().get(Photograph, uid)
    return Upload(uid, record.file_name or uid[:8], library().photograph_bytes(uid))


def marks_of_photograph(upload: Upload) -> Marks:
    """The marks noted with the shades that were measured in a photograph: regions, chart corners, card."""
    record = library().find_one(Photograph, upload.sha256)
    if record is None or not (record.width_px and record.height_px):
        return {}
    size = (record.width_px, record.height_px)
    marks: dict[str, tuple[float, ...]] = {}
    shades = library().list(ShadeRecord, photograph_uid=upload.sha256)
    for name, shade in zip(("region", "second"), shades, strict=False):
        for mark, noted in ((name, "region"), ("corners", "chart_corners"), ("card", "grey_card")):
            pixels = _flat(shade.provenance.get(noted))
            if len(pixels) in (4, 8):
                marks.setdefault(mark, tuple(float(x) for x in to_fractions(pixels, size)))
    return marks


def _flat(noted: object) -> list[float]:
    """Numbers, or pairs of numbers, as one list; empty for anything else."""
    rows = noted if isinstance(noted, (list, tuple)) else []
    flat = [x for row in rows for x in (row if isinstance(row, (list, tuple)) else [row])]
    return [float(x) for x in flat] if all(isinstance(x, (int, float)) for x in flat) else []


def palette() -> Palette:
    """All the studio knows, as it is now; worked out anew when materials, tiles or learning have changed."""
    return library().once("palette", lambda: _palette(studio(), _location(), _stamp()))


def offered() -> Palette:
    """What of it is on the shelf: the palette for recipes, partners and advice; InputError without a cement."""
    return library().once("offered", lambda: _offered(studio(), _location(), _stamp()))


def _stamp() -> tuple[tuple[int, str], ...]:
    kinds = (Studio, Cement, CementLot, PigmentRecord, PigmentLot, TileRecord, ShadeRecord, LearnedPalette)
    opened = library()
    return tuple(opened.state_of(kind) for kind in kinds)


@st.cache_resource(max_entries=4, show_spinner="Working out the palette")
def _palette(which: str, location: str | None, stamp: object) -> Palette:
    return studio_palette(_opened(which, location))


@st.cache_resource(max_entries=4, show_spinner=False)
def _offered(which: str, location: str | None, stamp: object) -> Palette:
    return offer(_opened(which, location), _palette(which, location, stamp))


def forget_session() -> None:
    """Everything that was worked out from a library that has been replaced since."""
    forget_in_hand()
    _palette.clear()
    _offered.clear()
