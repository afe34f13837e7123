"""Which library a session opens: the one in the address, else the one used last on this machine."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

import streamlit as st

from colormatch.library import data_folder
from colormatch.library.database import FILE_NAME
from colormatch.library.files import write_whole
from colormatch.screens.state import Studio, open_studio, studio, studio_chosen
from colormatch.screens.studios import LOCATION


def choose_library() -> bool:
    """Open the library this session is about; False when nobody has chosen one yet: the first start."""
    named = st.query_params.get("library")
    if named in ("demo", "own"):
        if not studio_chosen() or named != studio():
            turn_to_library("demo" if named == "demo" else "own")
    elif not studio_chosen():
        last = _last()
        if last is None:
            return False
        open_studio(last)
        st.query_params["library"] = last
    return True


def turn_to_library(which: Studio) -> None:
    """Open a library, and remember it for the next start."""
    open_studio(which)
    if st.query_params.get("library") != which:
        st.query_params["library"] = which
    with suppress(OSError):  # a full disk must not shut the door; the address remembers it too
        _file().parent.mkdir(parents=True, exist_ok=True)
        write_whole(_file(), which.encode())


def other() -> Studio:
    """The library that is not open."""
    return "own" if studio() == "demo" else "demo"


def _last() -> Studio | None:
    try:
        noted = _file().read_text("utf-8").strip()
    except (OSError, ValueError):
        noted = ""
    if noted == "demo":
        return "demo"
    return "own" if noted == "own" or _own_is_there() else None


def _own_is_there() -> bool:
    """A library of hers that an earlier version made, or one named at the start of the page."""
    where = os.environ.get(LOCATION) or str(data_folder())
    return "://" in where or (Path(where) / FILE_NAME).is_file()


def _file() -> Path:
    return data_folder().with_name("last-opened")
