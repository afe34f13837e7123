"""The first start: two doors, before any library is open."""

from __future__ import annotations

import streamlit as st

from colormatch.screens.last_opened import turn_to_library


def doors() -> None:
    """Ask whose studio to open; whatever address was asked for is shown after it."""
    st.title("Which studio shall be open?")
    st.markdown("You can change from one to the other at any time, at the top of every screen.")
    with st.container(border=True, key="door-own"):
        st.markdown("**My own studio**  \nEmpty at first. Six steps lead to the first batch. Nothing is sent anywhere.")
        if st.button("Set up my own", type="primary", key="door.own", width="stretch"):
            turn_to_library("own")
            st.rerun()
    with st.container(border=True, key="door-demo"):
        st.markdown("**The demo studio**  \nInvented pieces, photographs and prices, to try everything on.")
        if st.button("Look round the demo", key="door.demo", width="stretch"):
            turn_to_library("demo")
            st.rerun()
