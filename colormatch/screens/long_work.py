"""Long work in a thread of its own, beside the one that draws: how far it is, and one tap that cancels it.

if st.button("Import it"):
    begin("import", "Importing", lambda progress: import_library(opened, path, progress=progress))
report = ended("import")  # None while there is nothing to tell

What the work keeps is kept as a whole at its end, so that a cancelled one has changed nothing. The work itself
calls nothing of streamlit: the thread belongs to no session.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from threading import Event, Thread
from typing import Any

import streamlit as st

from colormatch.screens.blocks import card, small
from colormatch.screens.drawing import plain
from colormatch.screens.state import kept
from colormatch.screens.whole_runs import may_be_left

_SOON_S = 0.4  # shorter work is done before anything would be drawn; common practice, no source
_LOOK_S = 0.2


class Cancelled(Exception):
    """The maker has cancelled the work."""


@dataclass(slots=True)
class LongWork:
    """Work under way; `progress` is what the work calls, and raises Cancelled in it once it is to stop."""

    title: str
    share: float = 0.0
    stopping: bool = False
    result: Any = None
    error: BaseException | None = None
    over: Event = field(default_factory=Event)

    def progress(self, share: float) -> None:
        """The share done, 0..1."""
        if self.stopping:
            raise Cancelled(self.title)
        self.share = min(max(share, 0.0), 1.0)

    def cancel(self) -> None:
        """Stop at the next step; work that has come to its end before stays done."""
        self.stopping = True

    def start(self, work: Callable[[Callable[[float], None]], Any]) -> None:
        """Begin, in a thread of its own."""
        Thread(target=self._run, args=(work,), name=self.title, daemon=True).start()

    def _run(self, work: Callable[[Callable[[float], None]], Any]) -> None:
        try:
            self.progress(0.0)
            self.result = work(self.progress)
        except BaseException as error:  # told where the page asks for the result
            self.error = error
        self.over.set()


def begin(place: str, title: str, work: Callable[[Callable[[float], None]], Any]) -> None:
    """Begin work at a place of the page, which shows it by `ended`, and draw the page again."""
    under_way = LongWork(title)
    under_way.start(work)
    st.session_state[_slot(place)] = under_way
    st.rerun()


def ended(place: str) -> Any | None:
    """What the work at this place gave, once; None without any, or once it was cancelled. Raises what the work raised.

    While it goes on, only it is shown from here on: this waits. A tap anywhere else is heard, and the work goes on.
    """
    under_way: LongWork | None = st.session_state.get(_slot(place))
    if under_way is None:
        return None
    here = st.empty()
    if not under_way.over.wait(_SOON_S):
        with here.container(), card(f"long-{place}"):
            _show(place, under_way)
        here.empty()
    del st.session_state[_slot(place)]
    if isinstance(under_way.error, Cancelled):
        st.info(plain(f"{under_way.title}: cancelled. Nothing was changed."))
        return None
    if under_way.error is not None:
        raise under_way.error
    return under_way.result


def _show(place: str, under_way: LongWork) -> None:
    bar, words = st.empty(), plain(under_way.title)
    bar.progress(under_way.share, text=words)
    st.button("Cancel", key=f"long.{place}.cancel", on_click=under_way.cancel, disabled=under_way.stopping)
    if under_way.stopping:
        small("It stops at its next step.")
    with may_be_left():
        while not under_way.over.wait(_LOOK_S):
            bar.progress(under_way.share, text=words)


def _slot(place: str) -> str:
    return kept(f"long.{place}")
