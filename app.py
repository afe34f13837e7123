"""The page: which pages there are, and whose library is open. Start it with `colormatch page`."""

import streamlit as st

from colormatch.screens.drawing import show_words
from colormatch.screens.guard import guard
from colormatch.screens.routes import SECTIONS, page_file
from colormatch.screens.state import keep_inputs, studio, studio_key

LIBRARIES = {"demo": "Demo studio (invented)", "own": "My own library"}

st.set_page_config(page_title="colormatch", page_icon=str(page_file("icon").with_suffix(".svg")), layout="wide")
page = st.navigation(
    {
        section: [
            st.Page(page_file(name), title=title, url_path=name, default=name == "shade")
            for name, title in pages.items()
        ]
        for section, pages in SECTIONS.items()
    },
    expanded=True,
)
keep_inputs(page.title)
with st.sidebar:
    st.radio("Library", list(LIBRARIES), format_func=LIBRARIES.get, key=studio_key())
    with st.expander("What the numbers mean"):
        show_words()
if studio() == "demo":
    st.caption("Demo studio: its tiles, photographs and prices are invented. Your own library is kept apart from it.")
with guard():
    page.run()
