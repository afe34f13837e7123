"""Work in hand, kept in the library at each change: a reload, a second tab or the phone finds it as it was left."""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping
from datetime import date, time
from typing import Any

import streamlit as st

from colormatch.library import ConflictError, Draft, draft, drop_draft, save_draft, undo_draft
from colormatch.screens.device import device
from colormatch.screens.drawing import plain
from colormatch.screens.state import fill_text, studio
from colormatch.screens.studios import library

_CHANGED_ELSEWHERE = "This was changed on another device meanwhile. It is shown as it is there; make your change again."


class Work:
    """One piece of work in hand. what, key: its name in the library; title: what a list of work calls it.

    Read anew in every run of the page. A change is kept over the state that was on this screen; where another
    device was faster, hers stands and this one says so.
    """

    def __init__(self, what: str, key: str = "", *, title: str = "") -> None:
        self.what, self.key, self.title = what, key, title
        self._slot = f"work|{studio()}|{what}|{key}"
        self._read()

    @property
    def content(self) -> Mapping[str, Any]:
        """Plain values by name."""
        seen = self._seen
        return seen.content if seen else {}

    def get(self, name: str, default: Any = None) -> Any:
        """One value of the content."""
        return self.content.get(name, default)

    def put(self, **changes: Any) -> None:
        """Keep a change now; None takes a value away."""
        content = {name: value for name, value in {**self.content, **changes}.items() if value is not None}
        if content == self.content:
            return
        try:
            st.session_state[self._slot] = save_draft(
                library(), self.what, self.key, content=content, seen=self._seen, title=self.title, device=device()
            )
        except ConflictError:
            self._read()
            st.session_state[f"{self._slot}|said"] = _CHANGED_ELSEWHERE

    def drop(self) -> None:
        """Put it by: it is done, or thrown away."""
        if self._seen is not None:
            drop_draft(library(), self._seen)
        self._read()

    def undo(self) -> None:
        """Take the last change back; NotInLibrary when there is none."""
        undo_draft(library(), self.what, self.key)
        self._read()

    def last_change(self) -> frozenset[str]:
        """The names of the values that the last change touched; empty where there is nothing to undo."""
        versions = library().history(self._seen)[-2:] if self._seen is not None else []
        if len(versions) < 2:
            return frozenset()
        before, after = (dict(each.record.content) for each in versions if isinstance(each.record, Draft))
        return frozenset(name for name in {*before, *after} if before.get(name) != after.get(name))

    def say(self) -> None:
        """What became of a change, said once."""
        said = st.session_state.pop(f"{self._slot}|said", "")
        if said:
            st.warning(plain(said))

    def field(
        self,
        name: str,
        default: Any,
        among: Container[Any] | None = None,
        then: Callable[[], None] | None = None,
        key: str = "",
    ) -> dict[str, Any]:
        """Arguments of a widget whose value is kept here: `st.toggle("Two tones", **work.field("two", False))`.

        among: what may be chosen; anything else kept there, such as a jar now gone, becomes the default.
        then: what else a change does. key: of the widget, where it has to have one of its own.
        """
        key = key or f"{self._slot}|field|{name}"
        value = self.get(name, default)
        if among is not None:
            value = [each for each in value if each in among] if isinstance(value, list) else value
            value = value if isinstance(value, list) or value in among else default
        if among is None and isinstance(value, str):
            fill_text(key, value)
        else:
            st.session_state[key] = value

        def changed() -> None:
            self.put(**{name: st.session_state[key]})
            if then is not None:
                then()

        return {"key": key, "on_change": changed}

    def moment(self, name: str, kind: type[date] | type[time], default: date | time | None = None) -> dict[str, Any]:
        """The same for a day or an hour: `st.time_input("at", **work.moment("hour", time))`."""
        key, text = f"{self._slot}|field|{name}", self.get(name)
        st.session_state[key] = kind.fromisoformat(text) if text else default

        def changed() -> None:
            given = st.session_state[key]
            self.put(**{name: given.isoformat() if given else None})

        return {"key": key, "on_change": changed}

    @property
    def _seen(self) -> Draft | None:
        seen: Draft | None = st.session_state.get(self._slot)
        return seen

    def _read(self) -> None:
        st.session_state[self._slot] = draft(library(), self.what, self.key)
