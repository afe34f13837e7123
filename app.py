"""The page: which places there are, and whose library is open. Start it with `colormatch page`."""

import streamlit as st

from colormatch.screens.first_run import doors
from colormatch.screens.frame import dress, frame
from colormatch.screens.guard import guard
from colormatch.screens.last_opened import choose_library
from colormatch.screens.routes import PLACES, page_file, turn_to, unknown_page
from colormatch.screens.state import keep_inputs
from colormatch.screens.studios import one_look
from colormatch.screens.warming import warm_up
from colormatch.screens.whole_runs import install
from colormatch.serving.server import behind_the_gate

install()


def draw() -> None:
    """The place that a browser is at, in its frame."""
    st.set_page_config(page_title="colormatch", page_icon=str(page_file("icon").with_suffix(".svg")), layout="wide")
    pages = {place.name: st.Page(page_file(place.name), title=place.label, url_path=place.name) for place in PLACES}
    # Streamlit knows its default page by the root alone; whoever types its name is led there.
    pages["start"] = st.Page(page_file("start"), title=PLACES[0].label, url_path="root", default=True)
    typed = st.Page(lambda: turn_to("start"), title=PLACES[0].label, url_path="start")
    page = st.navigation([*pages.values(), typed, *unknown_page({*pages, "root"})], position="hidden")
    here = next((place for place in PLACES if pages[place.name] == page), PLACES[0])
    dress()
    keep_inputs(here.name)
    with guard():
        if choose_library():
            with one_look():
                frame(here)
                page.run()
            warm_up()
        else:
            doors()


if __name__ == "__main__":  # Streamlit runs the file so for every browser
    draw()
else:  # `streamlit run app.py` imports it, to know what to serve: this machine only, whatever address it listens on
    app = st.App(__file__, middleware=behind_the_gate())
