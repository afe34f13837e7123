"""One piece: its life so far, the next thing to do with it, and what came of it."""

from __future__ import annotations

from html import escape

import streamlit as st

from colormatch.library import BatchRecord, Piece
from colormatch.palette import Palette
from colormatch.saying import capital
from colormatch.screens.bench_drying import drying_view
from colormatch.screens.bench_fresh import fresh_view
from colormatch.screens.bench_result import compared_view, dry_view
from colormatch.screens.bench_words import STAGES, day_words, stage_now
from colormatch.screens.blocks import amounts, small
from colormatch.screens.drawing import plain
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.routes import by_address, link
from colormatch.screens.state import kept
from colormatch.screens.studios import library
from colormatch.screens.typed_numbers import keeping, number_field, read_if_any, sure
from colormatch.screens.work import Work
from colormatch.workshop.pieces import Stage, change_conditions, conditions, last_step, pieces_of, sell, undo_piece
from colormatch.workshop.selling import cost_words

FRESH, DRYING, DRY, COMPARED = "At demould", "Drying", "Dry", "Compared"
FIRST: dict[Stage, str] = {
    "in the mould": FRESH, "demould due": FRESH, "kept moist": DRYING, "drying": DRYING, "to be measured": DRY,
    "ready to seal": DRYING, "sealed": DRY, "sold": COMPARED,
}  # fmt: skip


def piece_part(piece: Piece, known: Palette) -> None:
    """The piece of an address: at the view its stage asks for."""
    batch = library().get(BatchRecord, piece.batch_uid) if piece.batch_uid else None
    with st.container(key="hand-back"):
        link("bench", "Its batch" if batch else "All of the bench", **({"batch": batch.uid} if batch else {}))
    st.title(plain(piece.name))
    stage = stage_now(piece)
    small(f"{STAGES[stage]}{f'; code {batch.code}' if batch and batch.code else ''}.")
    with st.container(key="narrow-piece"):
        _piece(piece, stage, known)


def _piece(piece: Piece, stage: Stage, known: Palette) -> None:
    _life(piece)
    show_notice("piece")
    if st.session_state.get(kept(f"piece.stage.{piece.uid}"), stage) != stage:
        st.query_params.pop("view", None)  # it has moved on: the view its stage asks for comes first again
    st.session_state[kept(f"piece.stage.{piece.uid}")] = stage
    views = [FRESH, DRYING, DRY, COMPARED]
    view = st.segmented_control("View", views, required=True, label_visibility="collapsed", width="stretch",
                                **by_address("view", FIRST[stage], views))  # fmt: skip
    with guard():
        if view == DRYING:
            drying_view(piece, known)
        elif view == DRY:
            dry_view(piece, known)
        elif view == COMPARED:
            compared_view(piece, known)
        else:
            fresh_view(piece, known)
    _details(piece)


def _life(piece: Piece) -> None:
    """Its life as a strip: what has been is dark, what is to come is pale."""
    steps = [
        ("cast", day_words(piece.cast_at)),
        ("out of the mould", day_words(piece.demoulded_at)),
        ("sealed", day_words(piece.sealed_at)),
        ("sold", day_words(piece.sold_on)),
    ]
    shown = "".join(
        f'<li class="{"done" if day else "ahead"}"><b>{escape(word)}</b><span>{escape(day) or "not yet"}</span></li>'
        for word, day in steps
    )
    st.html(f'<ol class="bench-life" aria-label="Its life so far">{shown}</ol>')


def _details(piece: Piece) -> None:
    with st.expander("How it was cast"):
        known = conditions(piece) | ({"materials": cost} if (cost := cost_words(library(), piece)) else {})
        show_notice("piece.noted")
        amounts([(capital(name), words) for name, words in known.items()] or [("Nothing was noted", "")])
        _correct(piece)
    with st.container(key="hand-piece", horizontal=True):
        if piece.sealed_at and not piece.sold_on and st.button("Sold", key="piece.sold"):
            with guard():
                sell(library(), piece)
                say_then_draw("piece", "Noted as sold.")
        step = last_step(piece)
        if step and st.button(f"Undo: {step}", type="tertiary", key="piece.undo"):
            with guard():
                say_then_draw("piece", undo_piece(library(), piece)[1])


def _correct(piece: Piece) -> None:
    """What was noted of the casting, corrected for all its pieces; not once one was measured."""
    if piece.conditions.get("locked"):
        small("Measured since: its shade belongs to these conditions, so they are not changed any more.")
        return
    place, work = f"piece.noted.{piece.uid}", Work("form noted", piece.uid)
    work.say()
    degrees, damp = (("" if each is None else f"{each:g}") for each in (piece.temperature_c, piece.humidity_percent))
    weather = st.text_input("Weather", placeholder="hot and dry, damp, cold ...",
                            **work.field("weather", str(piece.conditions.get("weather", ""))))  # fmt: skip
    number_field("Room", f"{place}.warm", unit="°C", value=degrees, work=work)
    number_field("Humidity", f"{place}.damp", unit="%", value=damp, work=work)
    finish = st.text_input("Mould finish", **work.field("finish", piece.mould_finish))
    sent = st.button("Correct what was noted", width="stretch", key=f"{place}.keep")
    if sent or sure(place, work):
        with keeping(place, work):
            warm = read_if_any(f"{place}.warm", name="The room", unit="°C", high=50)
            humid = read_if_any(f"{place}.damp", name="The humidity", unit="%", high=100)
            batch = library().find_one(BatchRecord, piece.batch_uid or "")
            all_of_it = pieces_of(library(), batch) if batch else [piece]
            change_conditions(library(), *(each for each in all_of_it if not each.conditions.get("locked")),
                              weather=weather.strip(), temperature_c=warm, humidity_percent=humid,
                              mould_finish=finish.strip())  # fmt: skip
            work.drop()
            say_then_draw("piece.noted", "Noted, for every piece of this casting that is not measured yet.")
