"""The guard: a known mistake as it stands, an unknown one as a plain sentence, never a traceback."""

from __future__ import annotations

import pytest
from streamlit.testing.v1 import AppTest


def _page(error: str) -> None:
    import streamlit as st

    from colormatch.errors import InputError
    from colormatch.screens.guard import guard

    st.text_input("Notes", key="notes")
    with guard():
        if error == "known":
            raise InputError("L*=5, a*=6 and <b> are *not* a [colour](http://example.invalid).")
        if error == "unknown":
            raise ZeroDivisionError("secret detail")
        st.stop()


def run(error: str) -> AppTest:
    return AppTest.from_function(_page, args=(error,)).run()


def test_a_known_mistake_is_shown_as_it_stands() -> None:
    shown = run("known").error[0].value
    assert shown.replace("\\", "") == "L*=5, a*=6 and <b> are *not* a [colour](http://example.invalid)."
    assert "](http" not in shown  # no Markdown link is made of it


def test_a_fault_is_a_sentence_in_the_page_and_a_traceback_in_the_log(caplog: pytest.LogCaptureFixture) -> None:
    page = run("unknown")
    assert not page.exception
    assert "fault of this program" in page.error[0].value
    assert "secret" not in page.error[0].value
    assert "ZeroDivisionError" in caplog.text


def test_stopping_and_rerunning_pass_through() -> None:
    page = run("")
    assert not page.error
    assert not page.exception


def test_what_was_typed_stays_after_an_error() -> None:
    page = run("known")
    page.text_input(key="notes").set_value("typed").run()
    assert page.error
    assert page.text_input(key="notes").value == "typed"
