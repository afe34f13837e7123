"""Planning a batch: how much to cast, and the sheet that follows; kept at once, so that it is never lost."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

import streamlit as st

from colormatch.colorimetry import lab_to_hex
from colormatch.errors import InputError
from colormatch.library import BatchRecord, DesignRecord, Mould, RecipeRecord, Swatch
from colormatch.palette import Palette
from colormatch.recipes.limits import USUAL_CEMENT_G
from colormatch.saying import shade_name
from colormatch.screens.blocks import small
from colormatch.screens.drawing import plain
from colormatch.screens.routes import onward, turn_to
from colormatch.screens.short_forms import mould_form
from colormatch.screens.state import kept
from colormatch.screens.studios import library, palette
from colormatch.screens.tapping import Card, tap_cards
from colormatch.screens.typed_numbers import keeping, number_field, read, read_whole, sure
from colormatch.screens.work import Work
from colormatch.workshop.plans import Casting, Plan, casting_of, castings, keep_plan, plan
from colormatch.workshop.shelf import defaults

BY_CEMENT = "by dry cement"


@dataclass(frozen=True, slots=True)
class HowMuch:
    """What was asked for: one mould, or the dry cement of all bowls; pieces, waste and water per g of cement."""

    mould_uid: str | None
    cement_g: float | None
    pieces: int
    waste: float
    water_per_cement: float


def cast_part(uid: str, known: Palette) -> None:
    """Cast a kept swatch, recipe or design: only how much is asked."""
    if uid == "all":
        _choose(known)
        return
    one = library().find_one
    record = one(Swatch, uid) or one(RecipeRecord, uid) or one(DesignRecord, uid)
    if record is None:
        st.title("Cast again")
        st.info("What was to be cast is not in this library; it may be in the bin, or in the other studio.")
        onward("bench", "To the bench")
        return
    st.title(plain(f"Cast {record.name}"))
    casting = casting_of(library(), record)
    how_much(f"cast.{uid}", "Weigh sheet", lambda wanted: keep_plan(library(), known, planned(casting, wanted, known)))


def _choose(known: Palette) -> None:
    """Everything that can be cast again, as cards."""
    st.title("Cast again")
    found = [each for each in castings(library()) if each.swatch_uid or each.design_uid]
    if not found:
        st.info("No recipe is kept yet. Match a shade first; the recipe found can be weighed at once.")
        onward("match", "Match a shade")
        return
    slot = kept("cast.tapped")
    if uid := st.session_state.pop(slot, None):
        turn_to("bench", cast=uid)
    cards = [
        Card(each.swatch_uid or each.design_uid or "", each.title, (), tuple(str(lab_to_hex(lab)) for lab in labs),
             alt=" and ".join(shade_name(lab) for lab in labs))
        for each in found
        if (labs := [known.predict(t.mix.loads, t.mix.base).lab for t in each.tones if t.mix.base in known.bases])
    ]  # fmt: skip
    tap_cards("cast again", "What can be cast", cards, on_tap=lambda key: st.session_state.update({slot: key}))


def weigh_it(casting: Casting, done: Work | None = None) -> None:
    """Plan a casting by her usual mould, keep it, put by the work it is `done` with, and turn to its sheet."""
    known = palette()
    batch = keep_plan(library(), known, usual_plan(casting, known))
    if done is not None:
        done.drop()
    turn_to("bench", batch=batch.uid)


def usual_plan(casting: Casting, known: Palette) -> Plan:
    """By the mould she fills most; without one, by the usual dry cement."""
    try:
        return plan(library(), known, casting)
    except InputError:
        if library().find_one(Mould, defaults(library()).mould_uid or "") is not None:
            raise
        return plan(library(), known, casting, cement_g=USUAL_CEMENT_G)


def planned(casting: Casting, wanted: HowMuch, known: Palette, preblend: Collection[str] = ()) -> Plan:
    """The plan for what was asked."""
    return plan(
        library(), known, casting, mould_uid=wanted.mould_uid, cement_g=wanted.cement_g, pieces=wanted.pieces,
        waste=wanted.waste, water_per_cement=wanted.water_per_cement, preblend=preblend,
    )  # fmt: skip


def how_much(
    place: str, button: str, then: Callable[[HowMuch], BatchRecord], batch: BatchRecord | None = None,
    now: Plan | None = None,
) -> None:  # fmt: skip
    """Ask for the amount and turn to the batch that `then` makes of it. batch, now: what the fields start from."""
    usual, work = defaults(library()), Work("form amount", place)
    work.say()
    moulds = {each.uid: each.name for each in library().list(Mould)}
    by_cement = batch is not None and batch.mould_uid is None
    options = [*moulds, BY_CEMENT]
    start = batch.mould_uid if batch else usual.mould_uid
    start = BY_CEMENT if by_cement else start if start in moulds else options[0]
    chosen = st.selectbox("Mould", options, format_func=lambda uid: moulds.get(uid, uid),
                          **work.field("mould", start, among=options))  # fmt: skip
    if not moulds:
        with st.expander("Add a mould"):
            if mould_form(place):
                st.rerun()
    if chosen == BY_CEMENT:
        cement = f"{batch.cement_g:g}" if batch and batch.cement_g else f"{USUAL_CEMENT_G:g}"
        number_field("Dry cement of all bowls", f"{place}.cement", unit="g", value=cement, work=work)
    number_field("Pieces", f"{place}.pieces", value=str(batch.pieces or 1) if batch else "1", work=work)
    with st.expander("Water" if chosen == BY_CEMENT else "Waste and water"):
        water = (now and now.water_per_cement) or usual.water_per_cement
        if chosen != BY_CEMENT:  # the cement given is all there is: nothing is added for waste
            waste = now.batch.waste if now and not by_cement else usual.waste
            number_field("Waste", f"{place}.waste", unit="%", value=f"{100 * waste:g}", work=work)
        number_field("Water to 100 g of cement", f"{place}.wet", unit="g", value=f"{100 * water:g}", work=work)
    if st.button(button, type="primary", width="stretch", key=f"{place}.amount") or sure(place, work):
        with keeping(place, work):
            made = then(_read(place, None if chosen == BY_CEMENT else chosen))
            work.drop()
            turn_to("bench", batch=made.uid)
    if chosen != BY_CEMENT:
        small("The mix that fills the mould once, with the water.")


def _read(place: str, mould_uid: str | None) -> HowMuch:
    by_cement = mould_uid is None
    return HowMuch(
        mould_uid,
        read(f"{place}.cement", name="The dry cement", low=1, high=100_000) if by_cement else None,
        read_whole(f"{place}.pieces", name="The number of pieces", low=1, high=500),
        0.0 if by_cement else read(f"{place}.waste", name="The waste", unit="%", high=100) / 100,
        read(f"{place}.wet", name="The water", unit="g", low=10, high=100) / 100,
    )
