"""What the first choice would have to wait for, made ready once the first page is drawn."""

from __future__ import annotations

import atexit
import gc
from threading import Timer

import streamlit as st

from colormatch import science

_AFTER_S = 1.0  # the browser has asked for all of the first page by then; measured on a desk's browser


@st.cache_resource(show_spinner=False)
def warm_up() -> None:
    """Once for a server, in a thread of its own; importing takes the same while whoever asks for it."""
    later = Timer(_AFTER_S, _ready)
    later.daemon = True
    later.start()


def _ready() -> None:
    science.warm().join()
    # What is imported stays: the collector, which holds up every thread meanwhile, need not look through it each time.
    gc.collect()
    gc.freeze()
    atexit.register(gc.unfreeze)  # what is left at the end would be told as leaked, on the terminal
