"""A piece as it leaves the mould: on track or not, and the dry shade it is heading for."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from colormatch.bench.cautions import caution_at
from colormatch.bench.demould import DemouldCheck
from colormatch.library import Piece
from colormatch.loads import per_cent
from colormatch.palette import Palette
from colormatch.saying import seen, than_predicted
from colormatch.screens.bench_tone import tone_of
from colormatch.screens.bench_words import day_words, moment_words
from colormatch.screens.blocks import amounts, answer, small, touching
from colormatch.screens.drawing import show_cautions
from colormatch.screens.guard import guard, say_then_draw
from colormatch.screens.keeping import keep_photograph, noted_of
from colormatch.screens.measuring import forget_answer, shade_asked, show_trust
from colormatch.screens.studios import library
from colormatch.weighed import mix_of
from colormatch.workshop.pieces import check_fresh, demould, keep_shade, times_of

TRACKS = {
    "on track": "On track.",
    "too little known": "Nothing speaks against it, but too little is known of these pigments to say.",
    "borderline": "At the edge of what was predicted.",
    "off track": "Not as predicted.",
}


def fresh_view(piece: Piece, known: Palette) -> None:
    """Measure it fresh, see where it is heading, keep that; or just note that it is out of the mould."""
    if piece.demoulded_at is None:
        due = (
            f"Out of the mould from {moment_words(piece.demould_due_at)}." if piece.demould_due_at else "In the mould."
        )
        answer(due, f"Its cement leaves the mould {times_of(library(), piece).words}.")
        if st.button("It is out of the mould", type="primary", width="stretch", key="fresh.out"):
            with guard():
                demould(library(), piece)
                say_then_draw("piece", f"Noted: {piece.name} is out of the mould.")
        show_cautions([caution_at("Demould")])
        return
    small(f"Out of the mould since {moment_words(piece.demoulded_at)}.")
    if piece.moist_until is not None:
        small(f"Kept moist under a cover until {day_words(piece.moist_until)}.")
    tone = tone_of(piece, "demould")
    about = f"{piece.uid}|{tone}|fresh"
    asked = shade_asked("demould", "Is it on track? Photograph it now, fresh.", state="demould", about=about)
    if not asked:
        return
    with guard():
        check = check_fresh(library(), known, piece, asked[0].shade, bowl=tone)
        _judged(check, mix_of(library(), replace(piece, bowl=tone or piece.bowl)).source)
    show_trust("demould")
    if st.button("Keep this shade", type="primary", width="stretch", key="fresh.keep"):
        with guard():
            uid = keep_photograph(asked[0].photograph) if asked[0].photograph else None
            keep_shade(
                library(), piece, asked[0].shade, state="demould", bowl=tone, photograph_uid=uid,
                provenance=noted_of("demould"),
            )  # fmt: skip
            forget_answer("demould", about)
            say_then_draw("piece", f"Kept: {piece.name}, fresh from the mould.")


def _judged(check: DemouldCheck, source: str) -> None:
    now = f"Fresh, it is {than_predicted(check.measured.lab, check.predicted.lab)}"
    then = f"dry, it will be {than_predicted(check.dry_now.lab, check.dry_planned.lab)}: {seen(check.dry_delta_e)}"
    numbers = f"{check.delta_e:.1f} dE00 fresh, {check.dry_delta_e:.1f} dry; from the mix {source}"
    answer(TRACKS[check.track], f"{now}; {then}.", numbers=numbers)
    left, right = st.columns(2)
    with left:
        touching([("measured, fresh", check.measured.lab), ("predicted", check.predicted.lab)], height_px=72)
    with right:
        touching([("heading for, dry", check.dry_now.lab), ("predicted", check.dry_planned.lab)], height_px=72)
    if check.causes:
        with st.expander("What may have gone wrong"):
            amounts([(cause.words, per_cent(cause.weight, 0)) for cause in check.causes], note="how likely of these")
