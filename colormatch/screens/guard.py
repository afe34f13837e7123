"""One guard around everything a page does: a mistake becomes a sentence, never a traceback."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager

import streamlit as st

from colormatch.errors import ColormatchError
from colormatch.screens.drawing import plain
from colormatch.screens.state import in_hand

_log = logging.getLogger("colormatch.page")


@contextmanager
def guard() -> Iterator[None]:
    """Show a ColormatchError as it stands; log any other exception and say so in a plain sentence.

    Fragments and callbacks run outside the page's own guard and need one themselves. What was typed
    stays: nothing in a form is cleared by an error.
    """
    try:
        yield
    except ColormatchError as error:
        st.error(plain(error))
    except Exception:  # the last resort: the maker gets a sentence, the log gets the rest
        _log.exception("an error that nobody foresaw")
        st.error(
            "Something went wrong that should not have; it is a fault of this program, not yours. What you typed "
            "is still here. The details are in the window the page was started from: please report them."
        )


def say_then_draw(place: str, words: str) -> None:
    """Run the page once more and say `words` there, at the place that calls `show_notice`."""
    in_hand().notices[place] = words
    st.rerun()


def show_notice(place: str) -> None:
    """What was to be said at this place, once."""
    words = in_hand().notices.pop(place, "")
    if words:
        st.success(plain(words))
