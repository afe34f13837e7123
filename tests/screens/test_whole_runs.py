"""What the browser asks for waits for the end of a run."""

from __future__ import annotations

from streamlit.proto.WidgetStates_pb2 import WidgetState, WidgetStates
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


def tapped(*buttons: str) -> RerunData:
    return RerunData(widget_states=WidgetStates(widgets=[WidgetState(id=each, trigger_value=True) for each in buttons]))


def heard(requests: WholeRuns) -> set[str]:
    """The buttons that the next run answers."""
    states = requests.on_scriptrunner_ready().rerun_data.widget_states
    return {each.id for each in states.widgets} if states else set()


def test_a_second_tap_on_the_button_being_answered_is_the_same_tap() -> None:
    requests = WholeRuns()
    requests.request_rerun(tapped("keep"))
    assert heard(requests) == {"keep"}
    assert requests.request_rerun(tapped("keep"))
    assert requests.on_scriptrunner_ready().type.name == "STOP"
    assert not requests.request_rerun(tapped("keep"))  # so Streamlit gives it to the next runner


def test_a_button_can_be_tapped_again_once_it_was_answered() -> None:
    requests = WholeRuns()
    requests.request_rerun(tapped("keep"))
    assert heard(requests) == {"keep"}
    requests.request_rerun(RerunData())
    assert heard(requests) == set()
    requests.request_rerun(tapped("keep"))
    assert heard(requests) == {"keep"}


def test_a_tap_on_another_button_meanwhile_is_heard() -> None:
    requests = WholeRuns()
    requests.request_rerun(tapped("keep"))
    heard(requests)
    requests.request_rerun(tapped("undo"))
    assert heard(requests) == {"undo"}


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
