"""Which device a screen is on, in a word for the work left there."""

from __future__ import annotations

import streamlit as st


def device() -> str:
    """`phone` or `computer`, as the browser says."""
    return "phone" if "Mobi" in str(st.context.headers.get("User-Agent", "")) else "computer"
