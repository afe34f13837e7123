"""The bowl, full screen: one step at a time beside the scale, each reading kept the moment it is entered."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Literal

import streamlit as st

from colormatch.bench.bowl import WATER, Step
from colormatch.bench.sheet import grams_as_shown
from colormatch.bench.weighing_mistake import Correction
from colormatch.library import BatchRecord
from colormatch.palette import Palette
from colormatch.saying import ALIKE, capital, compared
from colormatch.screens.bench_words import lot_words
from colormatch.screens.blocks import amounts, answer, small, touching
from colormatch.screens.bowl_after import poured
from colormatch.screens.drawing import plain
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.routes import asked, link, onward, turn_to
from colormatch.screens.state import kept
from colormatch.screens.studios import library, palette
from colormatch.screens.typed_numbers import number_field
from colormatch.screens.work import Work
from colormatch.workshop.curing import curing
from colormatch.workshop.numbers import Choice, Question
from colormatch.workshop.plans import plan_of
from colormatch.workshop.shelf import shelf
from colormatch.workshop.weighing import (
    Weighing,
    begin_bowl,
    bowl_to_weigh,
    correct,
    correct_sure,
    effect,
    enough,
    put,
    put_sure,
    settle,
    slip_of,
    start_again,
    step_words,
    undo,
    use_lot,
    zeroed,
)


@dataclass(frozen=True, slots=True)
class Asked:
    """A reading that is asked about before anything of it is kept. place: the entry it corrects, None: a new one."""

    question: Question
    typed: str
    place: int | None


def page() -> None:
    batch = library().find_one(BatchRecord, asked("batch")) if asked("batch") else None
    if batch is None:
        st.title("At the bowl")
        st.info("Which batch is to be weighed? Choose it at the bench.")
        onward("bench", "To the bench")
        return
    if not asked("bowl").isdecimal():  # from now on it is this one, also once it is weighed
        st.query_params["bowl"] = str(bowl_to_weigh(library(), batch))
    known, bowl = palette(), begin_bowl(library(), batch, int(asked("bowl")))
    with st.container(key="bowl"):
        st.title(plain(batch.name))
        _where(bowl)
        show_notice("bowl")
        _now(bowl, known)
        _so_far(bowl, known)
        with st.container(key="bowl-leave", horizontal=True, horizontal_alignment="distribute"):
            if bowl.state.entries and st.button("Undo the last step", type="tertiary", key="bowl.undo"):
                with guard():
                    say_then_draw("bowl", undo(library(), known, bowl)[1])
            link("bench", "Leave it for now", batch=batch.uid)


def _where(bowl: Weighing) -> None:
    """How far she is: in words, and as a bar."""
    number, of = bowl.place
    if bowl.state.over:  # the step that is being answered, not the one after it
        number = next((i for i, step in enumerate(bowl.state.order, 1) if step.material == bowl.state.over[0]), number)
    done = of if bowl.state.done else number - 1
    words = f"All {of} steps are done" if bowl.state.done else f"Step {number} of {of}"
    if bowl.of > 1:
        words = f"Bowl {bowl.number} of {bowl.of}, {bowl.state.sheet.name}. {words}"
    st.html(
        f'<div class="bowl-bar" role="progressbar" aria-label="{escape(words)}" aria-valuenow="{done}" '
        f'aria-valuemin="0" aria-valuemax="{of}"><i style="width:{100 * done / of:.0f}%"></i></div>'
        f'<p class="small">{escape(words)}.</p>'
    )


def _now(bowl: Weighing, known: Palette) -> None:
    """The one thing to do now: answer a question, decide about a mistake, weigh the next, or go on."""
    waiting = _waiting(bowl)
    if waiting is not None:
        _question(bowl, waiting)
    elif bowl.state.over:
        _over(bowl, known)
    elif bowl.step is not None:
        _step(bowl, bowl.step, known)
    elif bowl.number < bowl.of:
        answer("This bowl is weighed.", "Keep it covered; its water and the next bowl can wait for each other.")
        if st.button(f"Weigh bowl {bowl.number + 1}", type="primary", width="stretch", key="bowl.next"):
            turn_to("bowl_at_hand", batch=bowl.batch.uid, bowl=str(bowl.number + 1))
    else:
        poured(bowl, known)


def _step(bowl: Weighing, step: Step, known: Palette) -> None:
    label, work, caution = step_words(known, bowl)
    if step.kind == "zero":
        st.html(f'<p class="bowl-what">{escape(label)}</p><p class="bowl-work">{escape(work)}</p>')
        if st.button("It shows 0", type="primary", width="stretch", key="bowl.zero"):
            with guard():
                zeroed(library(), bowl)
                st.rerun()
        small(caution)
        return
    if step.kind == "water":
        planned = plan_of(bowl.batch).water_per_cement
        work = f"{work} {curing(library(), bowl.state.sheet.base).water_words(planned)}".rstrip()
    fine = bowl.state.bulk_step_g if step.kind in ("cement", "water") else bowl.state.scale_step_g
    shown = grams_as_shown(step.grams, fine)
    up_to = f"<small>up to {grams_as_shown(step.up_to, fine)} g</small>" if step.up_to is not None else ""
    begun = step.material in bowl.state.inside
    more = '<span class="more">more</span>' if begun else ""
    st.html(
        f'<p class="bowl-what">{escape(label)}</p><p class="bowl-grams">{shown}<span>g</span>{more}{up_to}</p>'
        f'<p class="bowl-work">{escape(work)}</p>'
    )
    with st.form("bowl.reading", border=False):
        typed = number_field("The scale shows", f"bowl.{bowl.batch.uid}.{bowl.number}.{_version(bowl)}", unit="g")
        with st.container(key=f"bowl-go-{_version(bowl)}", horizontal=True):
            exactly = st.form_submit_button(f"Exactly {shown} g", width="stretch")
            sent = st.form_submit_button("Next", type="primary", width="stretch")
    if exactly or sent:
        with guard():
            text = shown if exactly else typed
            result = put(library(), known, bowl, text)
            if isinstance(result, Question):
                _ask(bowl, result, text)
            st.rerun()
    if begun and st.button("Enough as it is", width="stretch", key="bowl.enough"):
        with guard():
            enough(library(), bowl)
            st.rerun()
    _from_which(bowl, step)
    small(caution)


def _version(bowl: Weighing) -> int:
    return bowl.seen.version if bowl.seen else 0


def _open_question(bowl: Weighing) -> Work:
    return Work("form bowl", f"{bowl.batch.uid}/{bowl.number}")


def _waiting(bowl: Weighing) -> Asked | None:
    """The question that is open about this state of the bowl, on any device."""
    there = _open_question(bowl)
    if not there.content or there.get("version") != _version(bowl):
        return None
    choices = tuple(Choice(*each) for each in there.get("choices"))
    return Asked(Question(there.get("words"), choices), there.get("typed"), there.get("place"))


def _ask(bowl: Weighing, question: Question, typed: str, place: int | None = None) -> None:
    choices = [[part for part in (each.words, each.value) if part is not None] for each in question.choices]
    _open_question(bowl).put(words=question.words, choices=choices, typed=typed, place=place, version=_version(bowl))


def _question(bowl: Weighing, waiting: Asked) -> None:
    answer(waiting.question.words)
    for number, choice in enumerate(waiting.question.choices):
        if st.button(plain(choice.words), width="stretch", key=f"bowl.choice.{number}"):
            with guard():
                _open_question(bowl).drop()
                if choice.value is not None and waiting.place is None:
                    put_sure(library(), bowl, choice.value, typed=waiting.typed)
                elif choice.value is not None and waiting.place is not None:
                    correct_sure(library(), bowl, waiting.place, choice.value, typed=waiting.typed)
                st.rerun()


def _from_which(bowl: Weighing, step: Step) -> None:
    """Where several bags or jars of it are open: from which one it is weighed."""
    here = shelf(library())
    lots = next((each.lots for each in (*here.cements, *here.pigments) if each.uid == step.material), ())
    if len(lots) < 2:
        return
    names = {lot.uid: lot_words(lot, number) for number, lot in enumerate(lots, start=1)}
    now = bowl.lots.get(step.material, lots[0].uid)
    chosen = st.selectbox(
        "Weighed from", list(names), list(names).index(now) if now in names else 0, format_func=names.__getitem__,
        key=f"bowl.lot.{bowl.batch.uid}.{bowl.number}.{step.material}.{_version(bowl)}",
    )  # fmt: skip
    if chosen and chosen != now:
        with guard():
            use_lot(library(), bowl, step.material, chosen)
            st.rerun()


def _over(bowl: Weighing, known: Palette) -> None:
    """More than planned went in: what it does to the dry shade, and the two ways on."""
    found = _slip(bowl, known)
    if found is None:
        return
    over = bowl.state.over[0]
    grams = bowl.state.inside[over] - bowl.state.targets.get(over, 0.0)
    change = compared(found.left.lab, found.planned.lab)
    ways = {"leave it": "leave it.", "correct it": "correct it.", "start again": "better start again."}
    answer(f"{grams:g} g of {known.label(over)} over.", f"Dry, that is {change}: {ways[found.advice]}")
    touching([("planned", found.planned.lab), ("as it is", found.left.lab)], height_px=64)
    best: Literal["correct it", "leave it", "start again"] = found.advice
    with st.container(key=f"bowl-go-{_version(bowl)}", horizontal=True):
        if best == "start again":
            if st.button("Start this bowl again", type="primary", width="stretch", key="bowl.again"):
                with guard():
                    start_again(library(), bowl)
                    st.rerun()
        elif st.button("Correct it", type=_dark(best == "correct it"), width="stretch", key="bowl.correct"):
            _settle(bowl, found, correct=True)
        if st.button("Leave it", type=_dark(best == "leave it"), width="stretch", key="bowl.left"):
            _settle(bowl, found, correct=False)
    if best != "start again":
        _correction(bowl, found, known)


def _slip(bowl: Weighing, known: Palette) -> Correction | None:
    """The answer to the mistake, worked out once for a state of the bowl."""
    slot = kept("bowl.slip")
    stamp = (bowl.batch.uid, bowl.number, _version(bowl))
    if st.session_state.get(slot, (None, None))[0] != stamp:
        with st.spinner("Looking what would correct it"):
            st.session_state[slot] = (stamp, slip_of(known, bowl))
    found: Correction | None = st.session_state[slot][1]
    return found


def _settle(bowl: Weighing, found: Correction, *, correct: bool) -> None:
    with guard():
        settle(library(), bowl, found, correct=correct)
        st.rerun()


def _correction(bowl: Weighing, found: Correction, known: Palette) -> None:
    with st.expander("What correcting it takes"):
        bulk = (WATER, bowl.state.sheet.base)
        fine = {name: bowl.state.bulk_step_g if name in bulk else bowl.state.scale_step_g for name in found.beyond_plan}
        rows = [
            (_label(name, known), f"{grams_as_shown(grams, fine[name])} g")
            for name, grams in found.beyond_plan.items()
            if grams > 0
        ]
        amounts(rows, note=f"beyond the sheet; {sum(found.beyond_plan.values()):.0f} g more mix in all")
        far = compared(found.corrected.lab, found.planned.lab)
        small(f"{found.how} Corrected, it dries {far} ({found.delta_e_corrected:.1f}); left, {found.delta_e_left:.1f}.")


def _so_far(bowl: Weighing, known: Palette) -> None:
    """What is in, each reading to be corrected where it was mistyped; and what the bowl will dry to."""
    entries = [(place, each) for place, each in enumerate(bowl.state.entries) if each.done == "weighed"]
    if not entries:
        return
    seen = None if bowl.state.over else effect(known, bowl)
    if seen is not None and seen.delta_e >= ALIKE and not bowl.state.done:
        small(seen.words)
    with st.expander(f"In the bowl so far ({len(entries)})"):
        small("Mistyped? Tap the weight and type what the scale showed.")
        for place, entry in entries:
            words = f"{entry.grams:g} g {_label(entry.material, known)}"
            with st.popover(plain(words), width="stretch", key=f"bowl.entry.{place}"):
                key = f"bowl.fix.{bowl.batch.uid}.{bowl.number}.{place}.{_version(bowl)}"
                with st.form(f"bowl.fix.{place}", border=False):
                    typed = number_field("The scale showed", key, unit="g")
                    sent = st.form_submit_button("Correct this weight", width="stretch")
                if sent:
                    with guard():
                        result = correct(library(), known, bowl, place, typed)
                        if isinstance(result, Question):
                            _ask(bowl, result, typed, place)
                        st.rerun()


def _label(material: str, known: Palette) -> str:
    label = "water" if material == WATER else known.label(material)
    return capital(label)


def _dark(advised: bool) -> Literal["primary", "secondary"]:
    return "primary" if advised else "secondary"


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
