"""A run of the page comes to its end before the next one begins.

Streamlit breaks a run off, anywhere that it touches its state or draws, as soon as the browser asks for another: of two
quick taps the first could be kept in the library and not in hand, and the second was refused as another device's, or
what the first had asked for was done twice. Only the page itself may end its run early (`st.rerun`), and what waits
for long work may be left. It needs `runner.fastReruns = false`, without which the next run does not wait at all.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import cast

from streamlit.runtime.scriptrunner import RerunData, get_script_run_ctx, script_runner
from streamlit.runtime.scriptrunner_utils.script_requests import ScriptRequest, ScriptRequests, ScriptRequestType


class WholeRuns(ScriptRequests):
    """What the browser asks for waits for the end of the run; what the run asks for itself does not.

    A second tap on the button that is being answered is the same tap: it asks for nothing.
    """

    may_be_left = False
    _asked_within = False
    _answered: frozenset[str] = frozenset()  # the buttons, by their ids

    def _request_rerun_locked(self, new_data: RerunData) -> bool:
        if get_script_run_ctx(suppress_warning=True) is not None:
            self._asked_within = True
        elif _tapped(new_data) & self._answered:
            return self._state is not ScriptRequestType.STOP
        return super()._request_rerun_locked(new_data)

    def on_scriptrunner_yield(self) -> ScriptRequest | None:
        """What to break the run off for, if anything."""
        if self._state is ScriptRequestType.RERUN and not (self._asked_within or self.may_be_left):
            return None
        request = super().on_scriptrunner_yield()
        return request and self._begin(request)

    def on_scriptrunner_ready(self) -> ScriptRequest:
        """What to do after the run."""
        return self._begin(super().on_scriptrunner_ready())

    def _begin(self, request: ScriptRequest) -> ScriptRequest:
        still = self._answered if self._asked_within else frozenset()
        asked = request.rerun_data if request.type is ScriptRequestType.RERUN else RerunData()
        self._answered = still | _tapped(asked)
        self._asked_within = False
        return request


def _tapped(asked: RerunData) -> frozenset[str]:
    states = asked.widget_states.widgets if asked.widget_states else ()
    return frozenset(state.id for state in states if state.WhichOneof("value") == "trigger_value")


@contextmanager
def may_be_left() -> Iterator[None]:
    """In here a tap anywhere is heard at once: nothing is kept, the page only waits."""
    context = get_script_run_ctx()
    requests = cast(WholeRuns, context.script_requests) if context else WholeRuns()
    requests.may_be_left = True
    try:
        yield
    finally:
        requests.may_be_left = False


def install() -> None:
    """Let Streamlit use it for every session from now on."""
    script_runner.ScriptRequests = WholeRuns  # type: ignore[attr-defined]
