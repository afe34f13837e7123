"""What the maker has in hand on the page: the only door to the session.

The demo studio and the maker's own library each have a session of their own, so that nothing of one is
ever mixed into the other.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal, cast

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

from colormatch.shade import Shade

if TYPE_CHECKING:
    from colormatch.learning import Report
    from colormatch.palette import Palette
    from colormatch.photo import Photo
    from colormatch.recipes import ReachReport, Recipe
    from colormatch.workshop.dry_ahead import DryAhead

Studio = Literal["demo", "own"]
Marks = Mapping[str, tuple[float, ...]]

_IN_HAND = "in hand"
_KEPT = "kept"
_STUDIO = "kept|studio"


@dataclass(frozen=True, slots=True)
class Upload:
    """A photograph in hand: its sha256, file name and bytes."""

    sha256: str
    name: str
    content: bytes = field(repr=False)


@dataclass(frozen=True, slots=True, eq=False)
class Wanted:
    """The shade the maker wants, and in a few words where it comes from; its spectrum (31,), where it has one."""

    shade: Shade
    origin: str
    photograph: Upload | None = None
    spectrum: tuple[float, ...] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Measurement:
    """A photograph measured: one Photo for each region, and the reference that was in the frame.

    fold: draws what may be said about the frame, where there is room for it.
    """

    upload: Upload
    photos: tuple[Photo, ...]
    reference: str
    fold: Callable[[], None] = lambda: None

    @property
    def stamp(self) -> str:
        """Tells this measurement from any other."""
        return f"{self.upload.sha256}|{self.reference}|{[photo.outline.tolist() for photo in self.photos]}"


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """Recipes found for a wanted shade, best first; reach: what stops it, where it is out of reach.

    stamp, palette: the question they answer, and the knowledge they come from. buy: what would be worth buying.
    """

    recipes: tuple[Recipe, ...]
    wanted: Wanted
    reach: ReachReport | None = None
    stamp: str = ""
    palette: Palette | None = None
    buy: tuple[str, ...] = ()


@dataclass(slots=True)
class InHand:
    """What was worked out from the work in hand, which itself is in the library: it may be lost and is made anew."""

    measured: dict[str, Measurement] = field(default_factory=dict)  # by place
    asked: dict[str, list[Wanted]] = field(default_factory=dict)  # by place: the shades measured or typed there
    wanted: Wanted | None = None
    found: Found | None = None
    dry: tuple[Found, DryAhead] | None = None  # of a shade wanted fresh or wet, whatever is in it
    report: Report | None = None  # of the latest learning
    notices: dict[str, str] = field(default_factory=dict)  # by place: one line that outlives a rerun


def studio() -> Studio:
    """Which library is open: the demo studio's or the maker's own. Asked within a session, which alone knows it."""
    if get_script_run_ctx(suppress_warning=True) is None:
        raise RuntimeError("Outside a session nothing knows which library is open: give what is needed of it.")
    return "own" if st.session_state.get(_STUDIO) == "own" else "demo"


def open_studio(which: Studio) -> None:
    """Turn to the other library; what is in hand in this one waits there."""
    st.session_state[_STUDIO] = which


def studio_chosen() -> bool:
    """Whether this session has a library open."""
    return _STUDIO in st.session_state


def in_hand() -> InHand:
    """What is in hand in the open library."""
    key = f"{_IN_HAND}|{studio()}"
    if key not in st.session_state:
        st.session_state[key] = InHand()
    return cast(InHand, st.session_state[key])


def forget_in_hand() -> None:
    """Begin anew in the open library."""
    st.session_state[f"{_IN_HAND}|{studio()}"] = InHand()


def kept(name: str) -> str:
    """The key of an input whose content is kept while other pages are looked at."""
    return f"{_KEPT}|{studio()}|{name}"


def put(name: str, value: Any) -> None:
    """Fill a kept input before it is drawn."""
    st.session_state[kept(name)] = value


def start_with(name: str, value: Any) -> str:
    """The key of a kept input that is filled with `value` the first time."""
    key = kept(name)
    if key not in st.session_state:
        st.session_state[key] = value
    return key


def fill_text(key: str, text: str) -> None:
    """Put a text into the field of that key; not where it stands already, which would wipe what is typed meanwhile.

    A text that was left in the field just before it was filled came here, while the browser shows the filling: that
    text is put there once more.
    """
    filled = f"filled|{key}"
    crossed = st.session_state.pop(filled, text) != text
    if st.session_state.get(key) != text:
        st.session_state[filled] = text
    elif not crossed:
        return
    st.session_state[key] = text


def visit() -> int:
    """How many times a page was turned to; what is drawn once a visit asks for it."""
    return int(st.session_state.get("visit", 0))


def keep_inputs(page: str) -> None:
    """Keep what was typed on the other pages (a widget that is not drawn would be forgotten); count visits.

    What is being typed here would be wiped (see `fill_text`): not `typed.bench...` while the bench is looked at, and
    no number at all, as they are in the library.
    """
    turned = st.session_state.get("page") != page
    for key in map(str, list(st.session_state)):
        being_typed = "|number." in key or (f"|typed.{page}." in key and not turned)
        if key.startswith(_KEPT) and not being_typed:
            st.session_state[key] = st.session_state[key]
    if turned:
        st.session_state["page"] = page
        st.session_state["visit"] = visit() + 1
