"""Bench: every batch and piece by where it is; and, by its address, one batch or one piece."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from colormatch.library import BatchRecord, Piece
from colormatch.screens.bench_batch import batch_part
from colormatch.screens.bench_piece import piece_part
from colormatch.screens.bench_plan import cast_part
from colormatch.screens.bench_words import STAGES, batch_card, day_words, moment_words, piece_card, stage_now
from colormatch.screens.blocks import answer, small
from colormatch.screens.drawing import plain
from colormatch.screens.finding import MOST
from colormatch.screens.guard import guard, show_notice
from colormatch.screens.routes import asked, link, turn_to
from colormatch.screens.state import kept
from colormatch.screens.studios import library, palette
from colormatch.screens.tapping import Card, tap_cards
from colormatch.workshop.pieces import Stage
from colormatch.workshop.today import find

SHOWN_OF_DONE = 6  # pieces; the others stand behind "all": by eye
UNDER_WAY: tuple[Stage, ...] = ("in the mould", "kept moist", "to be measured", "ready to seal")
AFTER: tuple[Stage, ...] = ("drying", "sealed", "sold")


def page() -> None:
    batch = library().find_one(BatchRecord, asked("batch")) if asked("batch") else None
    piece = library().find_one(Piece, asked("piece")) if asked("piece") else None
    if piece is not None:
        piece_part(piece, palette())
    elif batch is not None:
        batch_part(batch, palette())
    elif asked("cast"):
        cast_part(asked("cast"), palette())
    else:
        _everything(lost=bool(asked("batch") or asked("piece")))


def _everything(lost: bool) -> None:
    st.title("Bench")
    if lost:
        st.info("That batch or piece is not in this library; it may be in the bin, or in the other studio.")
    show_notice("bench")
    batches, pieces = library().list(BatchRecord), library().list(Piece)
    if not batches:
        answer("Nothing is planned or cast yet.", "A recipe or a kept swatch leads to the weigh sheet.")
        if st.button("Match a shade", type="primary", width="stretch", key="bench.match"):
            turn_to("match")
        return
    by_stage: dict[Stage, list[Piece]] = {}
    for piece in sorted(pieces, key=lambda each: str(each.cast_at or ""), reverse=True):
        by_stage.setdefault(stage_now(piece), []).append(piece)
    _find()
    left, right = st.columns(2, gap="large")
    with left:
        _batches("Weighing", [each for each in batches if each.stage == "weighing"])
        _pieces("demould due", by_stage)
        _batches("Planned", [each for each in batches if each.stage == "planned"])
        for stage in UNDER_WAY:
            _pieces(stage, by_stage)
        known = {None, *(each.batch_uid for each in pieces)}
        done = [each for each in batches if each.stage not in ("planned", "weighing")]
        _batches("Cast without pieces", [each for each in done if each.uid not in known])
    with right:
        for stage in AFTER:
            _pieces(stage, by_stage)
    with st.container(key="hand-bench-more"):
        link("over_time", "Over time: casts against their standard, and defects")


def _find() -> None:
    """The code of a sheet, or any part of a name."""
    with (
        st.form("bench.find", border=False),
        st.container(key="hand-find", horizontal=True, vertical_alignment="bottom"),
    ):
        text = st.text_input("Find by the code on the sheet, or a name", key=kept("typed.bench.find"))
        sent = st.form_submit_button("Find")
    wanted = (text if sent else asked("find")).strip()
    if not wanted:
        return
    found = [each for each in find(library(), wanted) if each.kind in ("batch", "piece")]
    if len(found) == 1:
        turn_to("bench", **{found[0].kind: found[0].uid})
    for each in found[:MOST]:
        link("bench", plain(each.words), **{each.kind: each.uid})
    if len(found) > MOST:
        small(f"And {len(found) - MOST} more: type more of the name.")
    if not found:
        st.warning("Nothing at the bench has that code or name. Codes have six letters and digits, no O, I, 0 or 1.")


def _batches(heading: str, batches: Sequence[BatchRecord]) -> None:
    if batches:
        st.header(heading)
        ordered = sorted(batches, key=lambda each: str(each.made_on or ""), reverse=True)
        known = palette()
        _tapped(heading, [batch_card(each, known) for each in ordered], "batch")


def _pieces(stage: Stage, by_stage: dict[Stage, list[Piece]]) -> None:
    pieces = by_stage.get(stage, [])
    if not pieces:
        return
    st.header(STAGES[stage])
    many = stage in ("sold", "sealed") and len(pieces) > SHOWN_OF_DONE
    if many and not st.toggle(f"Show all {len(pieces)}", key=kept(f"bench.all.{stage}")):
        pieces = pieces[:SHOWN_OF_DONE]
    known = palette()
    _tapped(STAGES[stage], [piece_card(each, known, _line(each, stage)) for each in pieces], "piece")


def _line(piece: Piece, stage: Stage) -> str:
    if stage == "in the mould":
        return f"out of it from {moment_words(piece.demould_due_at)}"
    if stage == "demould due":
        return f"may leave the mould since {moment_words(piece.demould_due_at)}"
    if stage == "kept moist":
        return f"under its cover until {day_words(piece.moist_until)}"
    if stage == "sold":
        return f"sold {day_words(piece.sold_on)}"
    return f"cast {day_words(piece.cast_at)}"


def _tapped(name: str, cards: list[Card], kind: str) -> None:
    """Cards to open: a tap turns to the address of what the card is about."""
    slot = kept(f"bench.tapped.{name}")
    if uid := st.session_state.pop(slot, None):
        turn_to("bench", **{kind: uid})
    tap_cards(f"bench {name}", name, cards, layout="rows", on_tap=lambda key: st.session_state.update({slot: key}))


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
