"""Demould and drying: is the fresh piece on track, what will it dry to, and when may it be sealed."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import streamlit as st
from PIL.Image import Image

from colormatch.bench.cautions import caution_at
from colormatch.bench.drying import Drying, follow_drying
from colormatch.errors import InputError
from colormatch.library import BatchRecord, DesignRecord, DryingWeight, RecipeRecord
from colormatch.palette import Palette
from colormatch.render import drying_picture
from colormatch.screens.drawing import Chip, plain, show_cautions, show_chips, show_table
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.pieces import Mix, dry_piece, fresh_piece
from colormatch.screens.routes import onward
from colormatch.screens.state import kept, start_with, visit
from colormatch.screens.studios import library, palette, settings

DEMOULD, DRYING, FINISHED = "At demould", "Drying", "Dry and measured"
UNKNOWN = "recipe not known"


def page() -> None:
    st.title("Demould and drying")
    part = st.radio(
        "Part",
        [DEMOULD, DRYING, FINISHED],
        horizontal=True,
        label_visibility="collapsed",
        key=start_with("drying.part", DRYING),
    )
    batches = {each.uid: each for each in library().list(BatchRecord)}
    if not batches:
        st.info("No batch is kept yet. Weigh one at the bowl and keep it; or weigh a piece on its own.")
        onward("batch", "To the batch")
        return
    followed = {each.batch_uid for each in library().list(DryingWeight)}
    ordered = sorted(batches, key=lambda uid: (uid in followed, batches[uid].made_on or date.min), reverse=True)
    one, two = st.columns(2)
    chosen = one.selectbox(
        "Batch", ordered, format_func=lambda uid: _batch_words(batches[uid]), key=kept("drying.batch")
    )
    mixes = {mix.name: mix for mix in _mixes(batches[chosen])}
    mix = mixes[two.selectbox("Recipe", list(mixes), key=kept("drying.tone"))]
    if part == DEMOULD:
        fresh_piece(batches[chosen], mix, palette())
    elif part == DRYING:
        _drying(batches[chosen], mix, palette())
    else:
        dry_piece(batches[chosen], mix, palette())


def _batch_words(batch: BatchRecord) -> str:
    return f"{batch.name or batch.uid}, {batch.made_on:%d.%m.%Y}" if batch.made_on else batch.name or batch.uid


def _mixes(batch: BatchRecord) -> list[Mix]:
    """The tones of a batch, and last the mix of which nothing is known."""
    uids: tuple[str, ...] = (batch.recipe_uid,) if batch.recipe_uid else ()
    if batch.design_uid:
        design = library().find_one(DesignRecord, batch.design_uid)
        uids = design.recipes if design else ()
    known = palette()
    found = [recipe for uid in uids if (recipe := library().find_one(RecipeRecord, uid))]
    usable = [each for each in found if each.cement_uid in known.bases and set(each.loads) <= set(known.pigments)]
    return [*(Mix(each.name, each.cement_uid, each) for each in usable), Mix(UNKNOWN, next(iter(known.bases)))]


def _drying(batch: BatchRecord, mix: Mix, known: Palette) -> None:
    weights = library().list(DryingWeight, batch_uid=batch.uid)
    typed = st.session_state.get(kept("drying.piece"))
    pieces = sorted({each.piece for each in weights} | ({typed} if typed else set())) or ["piece 1"]
    one, two = st.columns(2)
    piece = one.selectbox("Piece", pieces, key=kept("drying.piece"), accept_new_options=True) or pieces[0]
    step = two.number_input(
        "Step of the scale, g", 0.001, 50.0, step=0.1, format="%.3f",
        key=start_with("drying.step", float(settings().settings.get("scale_step_g", 0.1))),
    )  # fmt: skip
    own = [each for each in weights if each.piece == piece]
    _weigh(batch, piece, own)
    show_notice("drying")
    if own:
        with guard():
            _followed(batch, mix, known, own, step)
        with st.expander("Weights so far"):
            _weights(own)
    else:
        st.info("Weigh the piece when it leaves the mould, then once a day, always on the same scale.")


def _followed(batch: BatchRecord, mix: Mix, known: Palette, weights: list[DryingWeight], step: float) -> None:
    timed = _in_time(weights)
    days, grams = [day for day, _ in timed], [mass for _, mass in timed]
    drying = follow_drying(days, grams, scale_step_g=step)
    _verdict(drying, weights)
    st.image(_curve(drying, days, grams), caption="The weights, the curve they predict, and its doubt")
    if mix.loads is not None:
        now = drying.today
        show_chips(
            [
                Chip("Fresh from the mould", known.predict(mix.loads, mix.base, "demould")),
                Chip(f"Day {now:.0f}, to be expected", drying.shade(known, mix.loads, mix.base, now)),
                Chip("Dry", known.predict(mix.loads, mix.base, "dry")),
            ],
            height_px=80,
        )
    if drying.verdict == "seal":
        show_cautions([caution_at("Dry and seal")])


def _weigh(batch: BatchRecord, piece: str, before: list[DryingWeight]) -> None:
    # Fresh fields after each weight; until then what was typed stays, also when the minute passes.
    key = f"drying.weigh|{batch.uid}|{piece}|{len(before)}|{visit()}"
    now = datetime.now().replace(second=0, microsecond=0)
    for name, value in (("day", now.date()), ("hour", now.time())):
        st.session_state.setdefault(f"{key}|{name}", value)
    with st.form("drying.weigh"):
        one, two, three = st.columns(3)
        day = one.date_input("Weighed on", format="DD.MM.YYYY", key=f"{key}|day")
        hour = two.time_input("at", key=f"{key}|hour", step=60)
        grams = three.number_input("The scale shows, g", 0.0, 100_000.0, None, format="%.2f", key=f"{key}|grams")
        if st.form_submit_button("Note this weight"):
            with guard():
                if not grams:
                    raise InputError("Type the weight the scale shows, in grams.")
                when = datetime.combine(day, hour).astimezone(UTC)
                _check_moment(when, before)
                library().save(DryingWeight(batch_uid=batch.uid, piece=piece, weighed_at=when, mass_g=grams))
                say_then_draw("drying", f"Noted: {piece}, {grams:g} g.")


def _check_moment(when: datetime, before: list[DryingWeight]) -> None:
    """Refuse a weight in the future, or at the minute of one that is there."""
    if when > datetime.now(UTC) + timedelta(minutes=5):
        raise InputError("That day and hour is still to come; put in when the piece was on the scale.")
    same = next((each for each in before if each.weighed_at == when), None)
    if same is not None:
        raise InputError(
            f"{same.mass_g:g} g is noted at that minute already. Put in another time, or first take that weight out, "
            "under Weights so far."
        )


def _weights(weights: list[DryingWeight]) -> None:
    """What was noted, and the way to take out what was noted by mistake."""
    words = {each.uid: _weight_words(each) for each in weights}
    ordered = sorted(weights, key=lambda each: (str(each.weighed_at or ""), each.hours or 0.0))
    show_table(["Weighed", "g"], [[words[each.uid], f"{each.mass_g:g}"] for each in ordered])
    named = {each.uid: f"{words[each.uid]}: {each.mass_g:g} g" for each in ordered}
    chosen = st.selectbox("Noted by mistake", list(named), index=None, format_func=named.__getitem__)
    if chosen and st.button("Put this weight in the bin", key="drying.away"):
        with guard():
            library().delete(next(each for each in weights if each.uid == chosen))
            say_then_draw("drying", f"In the bin: {named[chosen]}.")


def _weight_words(weight: DryingWeight) -> str:
    if weight.weighed_at is not None:
        return f"{weight.weighed_at.astimezone():%d.%m.%Y %H:%M}"
    return f"{weight.hours or 0:g} h after demould"


def _in_time(weights: list[DryingWeight]) -> list[tuple[float, float]]:
    """(days since the first weight, g), in the order of time."""
    dated = [each for each in weights if each.weighed_at is not None]
    if dated:
        first = min(each.weighed_at for each in dated if each.weighed_at)
        points = [((each.weighed_at - first).total_seconds() / 86400, each.mass_g) for each in dated if each.weighed_at]
    else:
        points = [((each.hours or 0.0) / 24, each.mass_g) for each in weights]
    return sorted(points)


def _verdict(drying: Drying, weights: list[DryingWeight]) -> None:
    headline = {"seal": "It may be sealed.", "drying": "Still drying.", "cannot tell": "Too early to tell."}
    st.subheader(headline[drying.verdict])
    st.markdown(plain(drying.words))
    low, middle, high = drying.remaining_g
    rows = [["Water still to go", f"{middle:.1f} g ({low:.1f} to {high:.1f})"]]
    rows.append(["May be left when sealing", f"{drying.limit_g:.1f} g"])
    first = min((each.weighed_at for each in weights if each.weighed_at), default=None)
    if first is not None and np.isfinite(drying.seal_day[2]):
        early, likely, late = drying.seal_dates(first.date())
        rows.append(["Seal day", f"{likely:%d.%m.%Y} ({early:%d.%m.} to {late:%d.%m.})"])
    show_table(["", "nine times in ten within the brackets"], rows)


def _curve(drying: Drying, days: list[float], grams: list[float]) -> Image:
    end = max(days[-1] * 1.5, min(drying.seal_day[2], days[-1] + 30.0), days[-1] + 3.0)
    along = np.linspace(0.0, end, 160)
    band = drying.mass_band(along)
    return drying_picture(
        days,
        grams,
        curve=(along, band[:, 1]),
        band=(band[:, 0], band[:, 2]),
        plateau_g=drying.plateau_g[1],
        seal_day=drying.seal_day[1] if drying.seal_day[1] <= end else None,
        seal_range=(drying.seal_day[0], drying.seal_day[2]) if drying.seal_day[2] <= end else None,
        outliers=drying.outliers,
        width=620,
        height=390,
    )


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
