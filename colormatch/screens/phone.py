"""The phone: the page's address as a QR code, only while it is shared with its key."""

from __future__ import annotations

import io

import streamlit as st

from colormatch.screens.blocks import card, head, picture, small
from colormatch.screens.state import studio
from colormatch.serving.access import current


def on_the_phone() -> None:
    """How to go on with the phone at the bowl."""
    access = current()
    with card("phone"):
        if access is None or not access.shared:
            head("Go on with the phone", "This page is open on this machine only.")
            small("To have it at the bowl, stop the page and start it with --share at the end: colormatch page --share")
            return
        head("Go on with the phone", "Scan this once, in the same network. What is begun here is there.")
        here = f"{access.link}&library={studio()}"  # the phone opens the library that is open here
        picture(_code(here), "The page's address as a QR code", width_px=220)
        small(here)
        small("Whoever has this address can see and change the library. On plain http others in the network can read "
              "along: share it at home or in the workshop only.")  # fmt: skip


@st.cache_data(max_entries=4)
def _code(link: str) -> bytes:
    import segno

    out = io.BytesIO()
    segno.make(link, error="m").save(out, kind="png", scale=6, border=2)
    return out.getvalue()
