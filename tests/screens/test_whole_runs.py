"""What the browser asks for waits for the end of a run."""

from __future__ import annotations

from streamlit.runtime.scriptrunner import RerunData
from streamlit.testing.v1 import AppTest

from colormatch.screens.whole_runs import WholeRuns, install


def test_a_request_of_the_browser_is_heard_once_the_run_has_ended() -> None:
    requests = WholeRuns()
    requests.request_rerun(RerunData())
    assert requests.on_scriptrunner_yield() is None
    asked = requests.on_scriptrunner_ready()
    assert asked.type.name == "RERUN"
    assert requests.on_scriptrunner_ready().type.name == "STOP"


def test_it_is_heard_at_once_where_the_page_only_waits() -> None:
    requests = WholeRuns()
    requests.request_rerun(RerunData())
    requests.may_be_left = True
    asked = requests.on_scriptrunner_yield()
    assert asked is not None
    assert asked.type.name == "RERUN"


def test_a_session_that_is_closed_ends_its_run() -> None:
    requests = WholeRuns()
    requests.request_stop()
    asked = requests.on_scriptrunner_yield()
    assert asked is not None
    assert asked.type.name == "STOP"


def _taps_meanwhile() -> None:
    """A page that is asked for anew by the browser while it keeps something, and ends its second run itself."""
    from threading import Thread

    import streamlit as st
    from streamlit.runtime.scriptrunner import RerunData, get_script_run_ctx

    st.session_state["begun"] = st.session_state.get("begun", 0) + 1
    if st.session_state["begun"] == 1:
        context = get_script_run_ctx()
        assert context is not None
        assert context.script_requests is not None
        tap = Thread(target=context.script_requests.request_rerun, args=(RerunData(),))
        tap.start()
        tap.join()
    if st.session_state["begun"] == 2:
        st.rerun()
    st.session_state["ended"] = st.session_state.get("ended", 0) + 1


def test_a_run_that_is_tapped_into_keeps_what_it_began_and_rerun_still_ends_one() -> None:
    install()
    page = AppTest.from_function(_taps_meanwhile).run()
    assert not page.exception
    assert (page.session_state["begun"], page.session_state["ended"]) == (3, 2)
