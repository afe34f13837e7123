"""Which places there are, in the order of her day, and how one leads to another.

Every link carries the open library in the address, so that a reload, a second tab or a bookmark finds the same one.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any, Literal
from urllib.parse import urlsplit

import streamlit as st

from colormatch.screens.state import studio

if TYPE_CHECKING:
    from streamlit.navigation.page import StreamlitPage

_HERE = Path(__file__).parent


@dataclass(frozen=True, slots=True)
class Place:
    """A place of the page. name: its file and its address.

    shown: in the bar; on a phone only behind "More"; or nowhere, for what is reached from within another place.
    full: nothing on the screen but the place itself. part_of: the place that one is in meanwhile, by the bar.
    """

    name: str
    label: str
    shown: Literal["bar", "more", "within"] = "bar"
    full: bool = False
    part_of: str = ""


PLACES = (
    Place("start", "Today"),
    Place("match", "Match"),
    Place("swatches", "Swatches"),
    Place("bench", "Bench"),
    Place("two_tones", "Two tones", "more"),
    Place("tiles", "Tiles", "more"),
    Place("studio", "Studio", "more"),
    Place("help", "Help", "more"),
    Place("more", "More", "within"),
    Place("over_time", "Over time", "within", part_of="bench"),
    Place("bowl_at_hand", "At the bowl", "within", full=True),
)


def page_file(name: str) -> Path:
    """The file of a place."""
    return _HERE / f"{name}.py"


def link(name: str, label: str, *, icon: str | None = None, **address: str) -> None:
    """A link to a place, with what its address says: `link("swatches", "Rust", swatch=uid)`."""
    st.page_link(page_file(name), label=label, icon=icon, query_params=_address(address), width="stretch")


def onward(name: str, label: str, **address: str) -> None:
    """A link to the place that comes next in the work."""
    link(name, label, icon=":material/arrow_forward:", **address)


def turn_to(name: str, **address: str) -> None:
    """Go to a place now, by its address: `turn_to("bench", batch=uid)`."""
    st.switch_page(page_file(name), query_params=_address(address))


def say_where(**address: str) -> None:
    """Stay in the place at another address, as what a button does before the page is drawn (`on_click`)."""
    st.query_params.from_dict(_address(address))


def asked(name: str) -> str:
    """What the address says: `asked("swatch")` is the uid in `?swatch=`; empty when it says nothing."""
    return str(st.query_params.get(name, ""))


def by_address(name: str, default: str, among: Container[str]) -> dict[str, Any]:
    """Arguments of a widget whose value stands in the address, for reload, back and forward, and a second tab.

    `st.segmented_control("View", views, required=True, **by_address("view", views[0], views))`
    """
    key = f"address|{name}"
    st.session_state[key] = asked(name) if asked(name) in among else default

    def changed() -> None:
        st.query_params[name] = st.session_state[key]

    return {"key": key, "on_change": changed}


def _address(wanted: dict[str, str]) -> dict[str, str]:
    return {**wanted, "library": studio()}


def unknown_page(known: Container[str]) -> list[StreamlitPage]:
    """A page for an address that is none of the places, which says so; nothing where it is one."""
    name = PurePosixPath(urlsplit(st.context.url or "").path).name
    return [] if not name or name in known else [st.Page(_nowhere, title="Not here", url_path=name)]


def _nowhere() -> None:
    st.title("There is no page at this address")
    st.info("It may be mistyped, or of an older version. Everything is reached from Today.")
    onward("start", "To Today")
