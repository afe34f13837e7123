"""At the bowl: one large step at a time, on a phone beside the scale, and the answer to a slip."""

from __future__ import annotations

from html import escape

import streamlit as st

from colormatch.bench.cautions import caution_at
from colormatch.library import draw_down_stock
from colormatch.palette import Palette
from colormatch.screens.bowl import FIRST, WATERS, Work, begin, put_in, settle
from colormatch.screens.drawing import SAID_LAST, Chip, plain, show_cautions, show_chips, show_table
from colormatch.screens.guard import draw_again, guard, say_then_draw
from colormatch.screens.keeping import keep_batch
from colormatch.screens.state import Bench, Casting, in_hand, put
from colormatch.screens.studios import library

_LARGE = """<style>
.step {background:#f1f1f1; padding:18px 20px; border-radius:4px; line-height:1.2}
.step b {display:block; font-size:2.0rem} .step i {font-style:normal; font-size:3.4rem; font-weight:700}
.step span {display:block; font-size:1rem; margin-top:6px}
.st-key-bowl [data-testid="stNumberInputContainer"] {height:4.2rem} .st-key-bowl input {font-size:2rem}
.st-key-bowl button {min-height:4rem}
.st-key-bowl button p {font-size:1.3rem}
</style>"""
BEFORE = {"cement": "Weigh", "pigment": "Weigh", "water": "Water"}  # which step's caution is shown


@st.fragment
def at_the_bowl(key: str, casting: Casting, known: Palette) -> None:
    """The bowls of a batch, one step at a time; a fragment, so that a step is quick."""
    with guard(), st.container(key="bowl"):
        st.html(_LARGE)
        bench = in_hand().benches[key]
        work = bench.works[bench.place]
        if len(bench.works) > 1:
            st.markdown(plain(f"Bowl {bench.place + 1} of {len(bench.works)}: {work.bowl.name}"))
        if work.slip is not None:
            _slip(bench, work)
        elif work.ahead:
            _step(bench, work, known)
        else:
            _bowl_done(key, casting, bench)
        _so_far(work, known)
        if work.back is not None and st.button("Mistyped: type the last weight again", key="bowl.back"):
            _go_on(bench, work.back)
        if work.weighed and st.button("Start this bowl again", key="bowl.again"):
            _go_on(bench, begin(bench.batch, bench.place))


def _go_on(bench: Bench, work: Work) -> None:
    bench.works[bench.place] = work
    draw_again()


def _step(bench: Bench, work: Work, known: Palette) -> None:
    step = work.ahead[0]
    kind = "water" if step.material in WATERS else "cement" if step.material == work.bowl.base else "pigment"
    st.html(
        f'<div class="step"><b>{escape(_label(step.material, known))}</b><i>{step.grams:g} g</i>'
        f"<span>{escape(caution_at(BEFORE[kind]))}</span></div>"
    )
    if work.note:
        st.warning(plain(work.note))
    if step.material == FIRST:
        st.caption("Before any water: lid on and turn until the colour is even. " + caution_at("Mix dry"))
    key = f"bowl.shown|{bench.place}|{len(work.weighed)}|{len(work.ahead)}|{step.grams:g}"
    shown = st.number_input(
        "The scale shows, g", 0.0, 100_000.0, None, format="%.2f", key=key, placeholder=f"{step.grams:g}"
    )
    if st.button("Next", type="primary", width="stretch", key="bowl.next"):
        _go_on(bench, put_in(work, step.grams if shown is None else shown, known))


def _slip(bench: Bench, work: Work) -> None:
    slip = work.slip
    if slip is None:
        return
    st.html(f'<div class="step"><b>{escape(slip.advice.capitalize())}</b><span>{escape(slip.words)}</span></div>')
    show_chips(
        [
            Chip("As wanted, dry", slip.planned),
            Chip("If left", slip.left, f"dE00 {slip.delta_e_left:.1f} off"),
            Chip(
                "If corrected", slip.corrected, f"dE00 {slip.delta_e_corrected:.1f} off, {slip.extra_g:.0f} g more mix"
            ),
        ],
        height_px=90,
    )
    mend, leave = st.columns(2)
    if slip.advice != "start again" and mend.button(
        "Correct it", type="primary" if slip.advice == "correct it" else "secondary", width="stretch", key="bowl.mend"
    ):
        _go_on(bench, settle(work, mend=True))
    if slip.total_load <= slip.cap + 1e-9 and leave.button(
        "Leave it", type="primary" if slip.advice == "leave it" else "secondary", width="stretch", key="bowl.leave"
    ):
        _go_on(bench, settle(work, mend=False))


def _so_far(work: Work, known: Palette) -> None:
    if work.weighed:
        rows = [[_label(name, known), f"{grams:g} g"] for name, grams in work.weighed.items()]
        show_table(["In the bowl", ""], rows)


def _bowl_done(key: str, casting: Casting, bench: Bench) -> None:
    if bench.place + 1 < len(bench.works):
        st.success("This bowl is weighed.")
        if st.button("To the next bowl", type="primary", width="stretch", key="bowl.onward"):
            bench.place += 1
            draw_again()
        return
    st.success("Everything is weighed. Keep the batch, so that stock and learning know of it.")
    show_cautions([caution_at("Pour"), caution_at("Clean up"), SAID_LAST])
    stock = st.checkbox("Take what was weighed from the stock", value=True, key="bowl.stock")
    weather = st.text_input("Weather", key="bowl.weather", placeholder="hot and dry, damp, cold …")
    if st.button("Keep the batch", type="primary", width="stretch", key="bowl.keep"):
        record = keep_batch(casting, bench, weather=weather)
        del in_hand().benches[key]  # kept now: whatever the stock says, it must not be kept twice
        put("drying.batch", record.uid)
        if stock:
            draw_down_stock(library(), record.uid)
        say_then_draw("batch", f"Kept: {record.name}. Follow it on the page Demould and drying.")


def _label(material: str, known: Palette) -> str:
    label = known.label(material)
    return label[:1].upper() + label[1:]
