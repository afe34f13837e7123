"""A piece once it is dry: how near it came, the next batch corrected, and its casts compared."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from colormatch.library import Piece
from colormatch.palette import Palette
from colormatch.saying import capital, shade_name, than_predicted
from colormatch.screens.bench_plan import weigh_it
from colormatch.screens.bench_tone import tone_of
from colormatch.screens.bench_words import day_words, piece_shade
from colormatch.screens.blocks import answer, card, chip, head, small, touching
from colormatch.screens.drawing import plain, show_table, state_words
from colormatch.screens.guard import guard, say_then_draw
from colormatch.screens.keeping import keep_photograph, noted_of
from colormatch.screens.measuring import forget_answer, shade_asked, show_trust
from colormatch.screens.routes import link
from colormatch.screens.state import kept, start_with
from colormatch.screens.studios import library
from colormatch.screens.work import Work
from colormatch.weighed import mix_of
from colormatch.workshop.comparing import NextBatch, next_batch, other_casts, outcome
from colormatch.workshop.pieces import dry_shade, keep_shade, may_be_judged, sealed_state


def dry_view(piece: Piece, known: Palette) -> None:
    """Measure it dry or sealed; what is kept is judged at once, and the next batch corrected from it."""
    tone = tone_of(piece, "dry")
    if dry_shade(library(), piece, tone) is None:
        _measure(piece, tone, known)
        return
    _came_out(piece, tone, known)
    with st.expander("Measure it again, or sealed"):
        _measure(piece, tone, known)


def _measure(piece: Piece, tone: str, known: Palette) -> None:
    state = st.segmented_control(
        "It is", ["dry", "sealed"], key=start_with("dry.state", "dry"), format_func=state_words
    )
    state = state or "dry"
    if state == "dry":
        small(may_be_judged(library(), piece)[1])
    about = f"{piece.uid}|{tone}|{state}"
    asked = shade_asked("finished", "Photograph it beside the chart.", state=state, about=about)
    if not asked:
        return
    shade = asked[0].shade
    seen = sealed_state(library(), piece) if state == "sealed" else state
    mix = mix_of(library(), replace(piece, bowl=tone or piece.bowl)).mix
    if mix is not None and (seen == "dry" or seen in known.states):
        predicted = known.predict(mix.loads, mix.base, seen)
        answer(f"{than_predicted(shade.lab, predicted.lab).capitalize()}.")
        touching([("measured", shade.lab), ("predicted", predicted.lab)], height_px=72)
    show_trust("finished")
    if st.button("Keep this shade", type="primary", width="stretch", key="dry.keep"):
        with guard():
            uid = keep_photograph(asked[0].photograph) if asked[0].photograph else None
            keep_shade(
                library(), piece, shade, state=state, bowl=tone, photograph_uid=uid, provenance=noted_of("finished")
            )
            forget_answer("finished", about)
            say_then_draw("piece", f"Kept: {piece.name}, {state_words(seen).lower()}. The next learning counts it.")


def _came_out(piece: Piece, tone: str, known: Palette) -> None:
    found = outcome(library(), known, piece, bowl=tone)
    off = [("wanted", found.off_wanted), ("predicted as weighed", found.off_expected)]
    numbers = ", ".join(f"{far:.1f} dE00 from {word}" for word, far in off if far is not None)
    answer(found.words, numbers=numbers)
    shown = [("wanted", found.wanted), ("measured, dry", found.measured), ("predicted as weighed", found.expected)]
    touching([(word, shade.lab) for word, shade in shown if shade is not None], height_px=84)
    if found.too_early:
        st.warning(plain(found.too_early))
    if found.wanted is not None:
        _next(piece, tone, known)


def _next(piece: Piece, tone: str, known: Palette) -> None:
    st.header("The next batch")
    work, record = Work("form next", f"{piece.uid}/{tone}"), dry_shade(library(), piece, tone)
    of = record.uid if record else ""  # measured again, it is corrected anew
    key = kept(f"next.{of}.{piece.version}")
    pressed = st.button("Correct the recipe", key="dry.next", width="stretch")
    if pressed or (work.get("asked") == of and key not in st.session_state):
        work.put(asked=of)
        with guard(), st.spinner("Correcting from what was weighed"):
            st.session_state[key] = next_batch(library(), known, piece, bowl=tone)
    corrected: NextBatch | None = st.session_state.get(key)
    if corrected is None:
        return
    answer(corrected.words)
    names = dict.fromkeys([*corrected.last.loads, *corrected.recipe.loads])
    rows = [
        [known.label(name), _per_cent(corrected.last.loads.get(name)), _per_cent(corrected.recipe.loads.get(name))]
        for name in names
    ]
    show_table(["of the cement", "as weighed", "next"], rows)
    if st.button("Plan it", type="primary", width="stretch", key="dry.plan"):
        with guard():
            weigh_it(corrected.casting, work)


def _per_cent(load: float | None) -> str:
    return "none" if not load else f"{100 * load:.2f} %"


def compared_view(piece: Piece, known: Palette) -> None:
    """Other casts of the same recipe: where their shades differ, and what was different when they were cast."""
    casts = other_casts(library(), piece)
    if not casts:
        answer(
            "Nothing to compare yet.",
            "Casts of one recipe that were measured dry are compared here, condition by condition.",
        )
        return
    for number, other in enumerate(casts):
        with card(f"cast-{number}"):
            found = piece_shade(other.piece, known)
            mark = chip(found[1].lab, shade_name(found[1].lab)) if found else ""
            cast = f", cast {day_words(other.piece.cast_at)}" if other.piece.cast_at else ""
            head(f"{other.piece.name}{cast}", other.words, mark=mark, aside=f"{other.delta_e:.1f}")
            for each in other.different:
                small(_labelled(each, known))
            link("bench", "Open it", piece=other.piece.uid)


def _labelled(words: str, known: Palette) -> str:
    name, _, rest = words.partition(": ")
    label = known.label(name) if name in known.pigments else name
    return f"{capital(label)}: {rest}"
