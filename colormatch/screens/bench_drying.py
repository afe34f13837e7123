"""Following a piece by weight until it may be sealed."""

from __future__ import annotations

from datetime import date, datetime, time
from typing import Literal

import streamlit as st

from colormatch.bench.cautions import caution_at
from colormatch.bench.drying import Drying
from colormatch.library import DryingWeight, Piece
from colormatch.palette import Palette
from colormatch.screens.bench_words import moment_words
from colormatch.screens.blocks import amounts, answer, small, touching, undo_line
from colormatch.screens.drawing import show_cautions
from colormatch.screens.drying_chart import chart_words, drying_chart
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.plots import show_plot
from colormatch.screens.studios import library
from colormatch.screens.typed_numbers import keeping, number_field, read, sure
from colormatch.screens.work import Work
from colormatch.weighed import mix_of
from colormatch.workshop.pieces import (
    beside_what_was_mixed,
    dry_shade,
    drying,
    in_days,
    may_be_judged,
    noted_last,
    ready_words,
    seal,
    weigh_sure,
    weights_of,
)


def drying_view(piece: Piece, known: Palette) -> None:
    """The answer, the weight of today, the curve; and the seal."""
    weights = weights_of(library(), piece)
    state: Drying | None = None
    with guard():  # weights that contradict each other can still be taken out below
        state = drying(library(), piece) if weights else None
    if not weights:
        answer("Not weighed yet.", "Weigh it when it leaves the mould, then once a day, always on the same scale.")
    elif state is not None:
        answer(ready_words(state), numbers=state.words)
    ready = state is not None and state.verdict == "seal" and piece.sealed_at is None
    if ready:
        _seal(piece, ready)
    _weigh(piece, weights, first=not ready)
    if state is not None:
        days, grams = in_days(weights)
        show_plot(drying_chart(state, days, grams), chart_words(state, days, grams))
        _on_the_way(piece, state, known)
    if weights:
        with st.expander("Weights so far"):
            _weights(weights)
    if not ready:
        _seal(piece, ready)


def _weigh(piece: Piece, weights: list[DryingWeight], *, first: bool) -> None:
    show_notice("drying")
    key = f"drying.{piece.uid}.{len(weights)}"
    work = Work("form weight", piece.uid)
    work.say()
    number_field("The scale shows", key, unit="g", work=work)
    kind: Literal["primary", "secondary"] = "primary" if first else "secondary"
    sent = st.button("Note this weight", type=kind, width="stretch", key="drying.weigh.note")
    with st.expander("Not weighed just now?"):
        day = st.date_input("Weighed on", format="DD.MM.YYYY", **work.moment("day", date))
        hour = st.time_input("at", step=60, **work.moment("hour", time))
    if sent or sure("drying.weigh", work):
        with keeping("drying.weigh", work):
            grams = read(key, name="The weight")
            noted = weigh_sure(library(), piece, grams, at=_moment(day, hour))
            work.drop()
            odd = "" if weights else beside_what_was_mixed(library(), piece, noted.mass_g)
            say_then_draw("drying", f"Noted: {noted.mass_g:g} g. {odd}".strip())
    if weights:
        last = noted_last(library(), weights)
        undo_line("drying-last", f"{last.mass_g:g} g", lambda: library().delete(last))


def _moment(day: date | None, hour: time | None) -> datetime | None:
    """The day and hour given, local; None: now. A day without an hour is its noon, today it is now."""
    if hour is None and day in (None, date.today()):
        return None
    return datetime.combine(day or date.today(), hour or time(12)).astimezone()


def _on_the_way(piece: Piece, state: Drying, known: Palette) -> None:
    """What it looks like on the way; once its dry shade is measured, that and no prediction."""
    if (measured := dry_shade(library(), piece)) is not None:
        touching([("dry, measured", measured.shade().lab)], height_px=56)
        return
    mix = mix_of(library(), piece).mix
    if mix is not None and mix.base in known.bases and "demould" in known.states:
        chips = [
            ("fresh", known.predict(mix.loads, mix.base, "demould").lab),
            ("today", state.shade(known, mix.loads, mix.base, state.today).lab),
            ("dry", known.predict(mix.loads, mix.base, "dry").lab),
        ]
        touching(chips, height_px=56, note="predicted on the way")


def _weights(weights: list[DryingWeight]) -> None:
    amounts([(_when(each), f"{each.mass_g:g} g") for each in weights])
    named = {each.uid: f"{_when(each)}: {each.mass_g:g} g" for each in weights}
    chosen = st.selectbox("Noted by mistake", list(named), index=None, format_func=named.__getitem__)
    if chosen and st.button("Put this weight in the bin", key="drying.away"):
        with guard():
            library().delete(next(each for each in weights if each.uid == chosen))
            say_then_draw("drying", f"In the bin: {named[chosen]}.")


def _when(weight: DryingWeight) -> str:
    return moment_words(weight.weighed_at) or f"{weight.hours or 0:g} h after demould"


def _seal(piece: Piece, ready: bool) -> None:
    if piece.sealed_at is not None:
        small(f"Sealed {moment_words(piece.sealed_at)}{f' with {piece.sealer}' if piece.sealer else ''}.")
        return
    with st.expander("Seal it", expanded=ready):
        early, words = may_be_judged(library(), piece)
        small(words)
        if early is not None:
            small("Water that is shut in shows as a haze: better wait until the weights say so.")
        show_cautions([caution_at("Dry and seal")])
        work = Work("form sealer", piece.uid)
        sealer = st.text_input("Sealer", placeholder="what its label says", **work.field("sealer", ""))
        if st.button("Sealed", type="primary" if ready else "secondary", width="stretch", key="drying.sealed"):
            with guard():
                seal(library(), piece, sealer)
                work.drop()
                say_then_draw("piece", f"Noted: {piece.name} is sealed.")
