"""One batch: its sheet, what was weighed beside it, its pieces, and the next thing to do with it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import streamlit as st

from colormatch.bench.bowl import WATER, weighing_order
from colormatch.bench.cautions import STEPS, USES
from colormatch.bench.sheet import Sheet, grams_as_shown
from colormatch.bench.sheet_html import sheet_html
from colormatch.library import BatchRecord, Cement, Mould, PigmentRecord, Weighing, bags_and_jars
from colormatch.palette import Palette
from colormatch.screens.bench_plan import HowMuch, how_much, planned
from colormatch.screens.bench_words import (
    STAGES,
    day_words,
    lot_words,
    moment_words,
    piece_card,
    stage_now,
    weighing_words,
)
from colormatch.screens.blocks import amounts, answer, confirmed, small, touching
from colormatch.screens.drawing import plain, show_cautions, show_table
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.routes import link, turn_to
from colormatch.screens.state import kept
from colormatch.screens.studios import library
from colormatch.screens.tapping import tap_cards
from colormatch.workshop.casting import correct_lot
from colormatch.workshop.comparing import Line, against_plan
from colormatch.workshop.pieces import pieces_of, times_of
from colormatch.workshop.plans import Plan, batch_sheet, in_cement, keep_plan, plan_of, throw_away
from colormatch.workshop.shelf import shelf
from colormatch.workshop.weighing import bowls_begun

CHIPS = (("at demould", "demould"), ("dry", "dry"), ("sealed", "sealed"))


def batch_part(batch: BatchRecord, known: Palette) -> None:
    """The batch of an address: what to do with it, and its sheet beside it; on a phone below it."""
    with st.container(key="hand-back"):
        link("bench", "All of the bench")
    st.title(plain(batch.name))
    small(", ".join(part for part in (f"code {batch.code}" if batch.code else "", day_words(batch.made_on)) if part))
    show_notice("batch")
    to_weigh = batch.stage in ("planned", "weighing")
    left, right = st.columns([2, 3], gap="large")
    with left:
        if to_weigh:
            _weigh(batch)
        else:
            _pieces(batch, known)
    if not batch.planned:
        return
    plan = plan_of(batch)
    deed = [] if to_weigh else against_plan(library(), known, batch)
    with right:
        _sheet(batch, plan, known, weighed=bool(deed))
    with left:
        _deed(batch, deed)
    if batch.stage == "planned":
        with right:
            _change(batch, plan, known)


def _weigh(batch: BatchRecord) -> None:
    words = "Weigh it"
    if batch.stage == "weighing":
        done = all(each.state.done for each in bowls_begun(library(), batch))
        words = "Everything is in: pour it" if done else f"Continue weighing: {weighing_words(batch)}"
    if st.button(words, type="primary", width="stretch", key="batch.weigh"):
        turn_to("bowl_at_hand", batch=batch.uid)


def _sheet(batch: BatchRecord, plan: Plan, known: Palette, *, weighed: bool) -> None:
    """The plan, to print as well; where it was weighed, its amounts stand beside what went in."""
    st.header("As it was planned" if weighed else "Weigh sheet")
    made_for = st.empty()
    for number, bowl in enumerate(plan.batch.bowls, start=1):
        if len(plan.batch.bowls) > 1:
            st.subheader(plain(f"Bowl {number}: {bowl.name}"))
        if bowl.base in known.bases:
            shades = [(word, state) for word, state in CHIPS if state == "dry" or state in known.states]
            touching([(word, known.predict(bowl.loads, bowl.base, state).lab) for word, state in shades], height_px=56)
        if weighed:
            continue
        rows = []
        for step in weighing_order(bowl, plan.preblend):
            fine = plan.batch.bulk_step_g if step.kind in ("cement", "water") else plan.batch.scale_step_g
            grams = grams_as_shown(step.grams, fine)
            if step.kind == "water":
                rows.append(("Water", f"{grams}, up to {grams_as_shown(step.up_to or 0.0, fine)} g"))
            else:
                name = known.label(step.material)
                rows.append((f"Pre-blend of {name}" if step.kind == "preblend" else name, f"{grams} g"))
        share = 100 * bowl.pigment_g / bowl.cement_g
        most = 100 * bowl.cap_g / bowl.cement_g
        amounts(rows, note=f"Pigment: {share:.2g} % of the cement, at most {most:.3g} %.")
    for dose in plan.small:
        st.warning(plain(dose.words))
    with st.container(key="hand-sheet"), st.expander("To print or to take along"):
        uses = st.multiselect("What the pieces are for", USES, select_all=False, key=kept(f"batch.uses.{batch.uid}"))
        printed = batch_sheet(library(), known, batch, uses=uses)
        page, pdf = st.columns(2)
        page.download_button(
            "For a phone (HTML)", sheet_html(printed), f"{batch.code}.html", "text/html", width="stretch",
            on_click="ignore",
        )  # fmt: skip
        pdf.download_button(
            "To print (PDF)", partial(_pdf, printed), f"{batch.code}.pdf", "application/pdf",
            width="stretch", on_click="ignore",
        )  # fmt: skip
    with made_for:
        mould = library().find_one(Mould, batch.mould_uid) if batch.mould_uid else None
        small(" · ".join(filter(None, (mould.name if mould else "", *printed.facts[2:]))))
    with st.expander("Order of work and cautions"):
        steps = enumerate(printed.steps, start=1)
        st.markdown("\n".join(f"{number}. **{plain(step.name)}**: {plain(step.work)}" for number, step in steps))
        show_cautions([f"{step.name}: {step.caution}" for step in STEPS])


def _pdf(sheet: Sheet) -> bytes:
    """Made when it is asked for, outside the session: nothing here knows which library is open."""
    from colormatch.bench.sheet_pdf import sheet_pdf

    return sheet_pdf(sheet)


def _change(batch: BatchRecord, plan: Plan, known: Palette) -> None:
    """While nothing is weighed: another amount, a pre-blend, or away with it."""

    def again(wanted: HowMuch) -> BatchRecord:
        fresh = planned(in_cement(library(), batch, base), wanted, known, plan.preblend)
        return keep_plan(library(), known, fresh, instead=batch)

    with st.container(key="hand-change"):
        with st.expander("Change the amount or the bag"):
            base = _cement(batch, plan)
            how_much(f"batch.{batch.uid}", "Work it out again", again, batch, plan)
        question = "Nothing of it has been weighed. The bin of the studio brings it back."
        if confirmed("Throw this plan away", "batch.away", question=question, sure="Away with it"):
            with guard():
                throw_away(library(), batch)
                turn_to("bench")


def _cement(batch: BatchRecord, plan: Plan) -> str:
    """The cement of its bowls; where several are on the shelf, another one may be chosen."""
    now, here = plan.casting.tones[0].mix.base, {each.uid: each.name for each in shelf(library()).cements}
    if not set(here) - {now}:
        return now
    names = {now: here.get(now, now), **here}
    chosen = st.selectbox("Bag", list(names), format_func=names.__getitem__, key=kept(f"batch.{batch.uid}.base"))
    if chosen and chosen != now:
        small("The shade changes with the cement: the new sheet shows it.")
    return chosen or now


def _deed(batch: BatchRecord, lines: Sequence[Line]) -> None:
    """Plan and deed side by side, and what each difference alone does to the dry shade."""
    if not lines:
        return
    st.header("As it was weighed")
    bowls = list(dict.fromkeys(line.bowl for line in lines))
    for number, bowl in enumerate(bowls, start=1):
        rows = [[line.label, ("up to " if line.material == WATER else "") + _g(line.planned_g), _g(line.weighed_g)]
                for line in lines if line.bowl == bowl]  # fmt: skip
        show_table([f"Bowl {number}" if len(bowls) > 1 else "In the bowl", "planned", "weighed"], rows)
    for line in lines:
        if line.effect:
            small(f"{line.label}: {line.effect}.")
    _from_which(batch)


def _from_which(batch: BatchRecord) -> None:
    """Noted from the wrong bag or jar: said otherwise, for everything that was cast of it."""
    materials: list[Cement | PigmentRecord] = [*library().list(Cement), *library().list(PigmentRecord)]
    names, lots = {each.uid: each.name for each in materials}, bags_and_jars(library())
    of = {uid: [own for own, lot in lots.items() if lot.material_uid == uid] for uid in names}
    words = {lot: f"{names[uid]}: {lot_words(lots[lot], n)}" for uid in names for n, lot in enumerate(of[uid], start=1)}
    with st.expander("Weighed from another bag or jar?"):
        for row in {row.material: row for row in library().list(Weighing, batch_uid=batch.uid)}.values():
            now = row.lot_uid
            options = [each for each in words if type(lots[each]) is type(lots.get(now))]
            if not now or len(options) < 2:
                continue
            chosen = st.selectbox(
                plain(names[row.material]), options, options.index(now), format_func=words.__getitem__,
                key=f"batch.lot.{row.uid}.{row.version}",
            )  # fmt: skip
            if chosen and chosen != now:
                with guard():
                    correct_lot(library(), batch, row.material, lots[chosen])
                    say_then_draw("batch", f"Noted: from {words[chosen]}. The next learning counts it.")


def _g(grams: float | None) -> str:
    return "" if grams is None else f"{grams:g} g"


def _pieces(batch: BatchRecord, known: Palette) -> None:
    pieces = pieces_of(library(), batch)
    if not pieces:
        return
    due = max((each.demould_due_at for each in pieces if each.demould_due_at and not each.demoulded_at), default=None)
    if due is not None:
        answer(
            f"Out of the mould from {moment_words(due)}.",
            f"Its cement leaves the mould {times_of(library(), pieces[0]).words}.",
        )
    slot = kept("batch.tapped")
    if uid := st.session_state.pop(slot, None):
        turn_to("bench", piece=uid)
    cards = [piece_card(each, known, STAGES[stage_now(each)]) for each in pieces]
    tap_cards("pieces", "Pieces", cards, layout="rows", on_tap=lambda key: st.session_state.update({slot: key}))
