"""The open library and what the pages ask of it; opened once and shared by all sessions."""

from __future__ import annotations

import os

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
    TileRecord,
    open_demo,
    open_library,
)
from colormatch.pages.state import Marks, Upload, studio
from colormatch.palette import Palette
from colormatch.studio import studio_palette

LOCATION = "COLORMATCH_LIBRARY"  # a folder or a PostgreSQL URL; set by `colormatch page --library`


def library() -> Library:
    """The open library: the demo studio's or the maker's own."""
    return _opened(studio(), os.environ.get(LOCATION) or None)


@st.cache_resource(max_entries=4, show_spinner="Opening the library")
def _opened(which: str, location: str | None) -> Library:
    return open_demo() if which == "demo" else open_library(location)


def settings() -> Studio:
    """The studio's own record; an unnamed one before it was filled in."""
    return library().find_one(Studio, "studio") or Studio(uid="studio", name="My studio")


def photograph_names() -> dict[str, str]:
    """uid -> file name of the photographs in the library, by name."""
    names = {each.uid: each.file_name or each.uid[:8] for each in library().list(Photograph)}
    return dict(sorted(names.items(), key=lambda item: item[1]))


def photograph(uid: str) -> Upload:
    """A photograph of the library, in hand."""
    record = library().get(Photograph, uid)
    return Upload(uid, record.file_name or uid[:8], library().photograph_bytes(uid))


def marks_of_photograph(upload: Upload) -> Marks:
    """The region a shade of the library was measured in, for a photograph that is in it."""
    for shade in library().list(ShadeRecord, photograph_uid=upload.sha256):
        region = shade.provenance.get("region")
        if isinstance(region, (list, tuple)) and len(region) == 4:
            return {"region": _as_fractions(upload, region)}
    return {}


def _as_fractions(upload: Upload, region: list[float] | tuple[float, ...]) -> tuple[float, ...]:
    record = library().get(Photograph, upload.sha256)
    if max(region) <= 1 or not (record.width_px and record.height_px):
        return tuple(region)
    return tuple(value / (record.width_px, record.height_px)[i % 2] for i, value in enumerate(region))


def palette() -> Palette:
    """The studio's palette as it is now; worked out anew when materials, tiles or learning have changed."""
    opened = library()
    kinds = (Cement, CementLot, PigmentRecord, PigmentLot)
    materials = tuple((each.uid, each.version) for kind in kinds for each in opened.list(kind))
    counts = tuple(opened.count(kind) for kind in (TileRecord, ShadeRecord, LearnedPalette))
    return _palette(studio(), os.environ.get(LOCATION) or None, materials, counts)


@st.cache_resource(max_entries=4, show_spinner="Working out the palette")
def _palette(which: str, location: str | None, materials: object, counts: object) -> Palette:
    return studio_palette(_opened(which, location))
