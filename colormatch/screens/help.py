"""Help: what is needed, the first day, how sure it is, the words, the cautions; made to be printed."""

from __future__ import annotations

from html import escape

import streamlit as st

from colormatch.bench.cautions import STEPS, USES, caution_for
from colormatch.screens.drawing import SAID_LAST, WORDS
from colormatch.screens.guard import guard
from colormatch.screens.phone import on_the_phone

NEEDED = (
    "your cement, your jars of dry pigment, water, a mould",
    "a scale that shows 0.1 g for the pigment (0.01 g for small doses), and one for the cement",
    "a phone or a camera; best with a 24-patch colour chart in the picture, else a grey card",
    "a fitted P100 / FFP3 mask, gloves, eye protection",
)
FIRST_DAY = (
    "Put your bag and your jars on the shelf: the names are enough. A mould: fill it with water and weigh the water.",
    "Cast five small tiles, the ones the tool advises for the shades you want, and photograph them dry, all at once.",
    "Photograph the shade you want in soft, even light, beside the chart, and mark it.",
    "Take a recipe, weigh at the bowl with the phone, and correct a weighing mistake while it is still dry.",
    "Look at the piece when it leaves the mould, follow its weight while it dries, seal it when it is dry.",
    "Photograph it dry: the next recipe learns from it.",
)
WITHOUT_TILES = (
    "Before any tile is cast, a mixture of known kinds of pigment is about 4 off; after the five tiles it advises, "
    "wanted shades are about 1.3 off, after eight about 1."
)
SURE = (
    WITHOUT_TILES,
    "About 1 is hardly to be told apart; 2 passes for the same on mottled cement.",
    "A photograph with a chart is about 0.5 off, one with a grey card alone about 2.",
    "Dry and fresh are two shades: a fresh piece is darker. Judge it dry.",
    "All of this was measured on simulated studios and photographs; nothing has yet been measured on real cement.",
)


def page() -> None:
    st.title("Help")
    _part("What you need", _list(NEEDED, "ul"))
    _part("The first day", _list(FIRST_DAY, "ol"))
    _part("How sure it is", _list(SURE, "ul"))
    _part("Words", "<dl>" + "".join(f"<dt>{escape(w)}</dt><dd>{escape(m)}</dd>" for w, m in WORDS.items()) + "</dl>")
    _part("Cautions, step by step", _list([f"{step.name}: {step.caution}" for step in STEPS], "ul"))
    _part("What pieces are used for", _list([caution_for(use, deference=False) for use in USES], "ul"))
    st.html(f'<p class="help"><b>{escape(SAID_LAST)}</b></p>')
    with st.container(key="hand-phone"):
        on_the_phone()


def _part(title: str, html: str) -> None:
    st.header(title)
    st.html(f'<div class="help">{html}</div>')


def _list(lines: tuple[str, ...] | list[str], tag: str) -> str:
    return f"<{tag}>" + "".join(f"<li>{escape(line)}</li>" for line in lines) + f"</{tag}>"


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
