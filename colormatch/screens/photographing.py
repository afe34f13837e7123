"""A photograph in hand: from the phone's camera, a file, or one kept before; it stays in the library."""

from __future__ import annotations

import base64
from pathlib import Path

import streamlit as st

from colormatch.library import NotInLibrary
from colormatch.screens.guard import guard
from colormatch.screens.keeping import keep_photograph
from colormatch.screens.marking import begin_anew
from colormatch.screens.state import Upload, studio
from colormatch.screens.studios import library, photograph, photograph_names
from colormatch.screens.tapping import Card, tap_cards
from colormatch.screens.work import Work

KINDS = ["image/*", ".heic", ".tif", ".tiff"]  # image/* makes a phone offer its camera; a desk does not know HEIC
_LABEL = "Photograph: JPEG, PNG, TIFF, WebP or HEIC"
_OFFERED = 6  # photographs kept before, to choose from
_HERE = Path(__file__).parent
_camera = st.components.v2.component(
    "colormatch.camera",
    html='<button type="button" hidden></button>',
    css=(_HERE / "camera.css").read_text("utf-8"),
    js=(_HERE / "camera.js").read_text("utf-8"),
)


def photograph_asked(place: str, state: str, about: str = "") -> Upload | None:
    """The photograph in hand at a place, or a way to take one; None until there is one.

    state: photographs of pieces in this state are offered first; without one, those of wanted shades.
    """
    work = Work(place, about)
    upload = _in_hand(work, state)
    if upload is None:
        _ask(work, state)
    return upload


def put_away(place: str, about: str = "") -> None:
    """Another photograph is to be taken; undo brings this one back."""
    work = Work(place, about)
    begin_anew(place, about)
    work.put(photograph="", given=None)


def _in_hand(work: Work, state: str) -> Upload | None:
    uid = work.get("photograph")
    if uid is None and not work.get("given") and studio() == "demo" and work.what == "match":  # something to begin with
        uid = next(iter(photograph_names(state)), "")
    if not uid:
        return None
    try:
        return photograph(uid)
    except NotInLibrary:  # put into the bin since
        return None


def _ask(work: Work, state: str) -> None:
    name = f"photograph-{work.what}"
    with st.container(key=f"{name}-camera"):
        _camera(key=f"camera|{name}", data={"label": "Take a photograph", "uploader": name})
    with st.container(key=name):
        file = st.file_uploader(_LABEL, KINDS, key=f"{name}|{work.key}|file")
    if file is not None:
        with guard():
            _take(work, keep_photograph(Upload("", file.name, file.getvalue())))
            st.rerun()
    kept = list(photograph_names(state).items())[:_OFFERED]
    if kept:
        with st.expander("Or one you have kept"):
            cards = [Card(uid, words, picture=thumbnail(uid), alt="") for uid, words in kept]
            tap_cards(
                f"{name}|{work.key}", "Photographs", cards, on_tap=lambda uid: _take(work, uid), layout="pictures"
            )


def _take(work: Work, uid: str) -> None:
    begin_anew(work.what, work.key)
    work.put(photograph=uid, given=None)


@st.cache_data(max_entries=200, show_spinner=False)
def _thumbnail(uid: str, which: str) -> str:
    return "data:image/jpeg;base64," + base64.b64encode(library().thumbnail_bytes(uid)).decode("ascii")


def thumbnail(uid: str) -> str:
    """A small picture of a photograph of the library, as a data URL."""
    return _thumbnail(uid, studio())
