"""Demould and drying: is the fresh piece on track, what will it dry to, and when may it be sealed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime

import numpy as np
import streamlit as st
from PIL.Image import Image

from colormatch.bench.batch import Tone
from colormatch.bench.cautions import caution_at
from colormatch.bench.demould import DemouldCheck, check_demould
from colormatch.bench.drying import Drying, follow_drying
from colormatch.difference import delta_e_2000
from colormatch.errors import InputError
from colormatch.learning import dry_from_wet
from colormatch.library import BatchRecord, DesignRecord, DryingWeight, RecipeRecord
from colormatch.pages.drawing import Chip, plain, show_cautions, show_chips, show_table
from colormatch.pages.guard import guard
from colormatch.pages.keeping import keep_piece
from colormatch.pages.measuring import shade_asked, show_trust
from colormatch.pages.routes import onward, turn_to
from colormatch.pages.state import Casting, Wanted, in_hand, kept, start_with, take_to_batch
from colormatch.pages.studios import library, palette, settings
from colormatch.palette import Palette
from colormatch.recipes import Limits, mend_next_batch
from colormatch.render import drying_picture
from colormatch.shade import Shade

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
    mixes = _mixes(batches[chosen])
    tone = two.selectbox("Recipe", list(mixes), key=kept("drying.tone"))
    base, loads = mixes[tone]
    if part == DEMOULD:
        _at_demould(batches[chosen], base, loads, palette())
    elif part == DRYING:
        _drying(batches[chosen], base, loads, palette())
    else:
        _at_the_end(batches[chosen], base, loads, palette())


def _batch_words(batch: BatchRecord) -> str:
    return f"{batch.name or batch.uid}, {batch.made_on:%d.%m.%Y}" if batch.made_on else batch.name or batch.uid


def _mixes(batch: BatchRecord) -> dict[str, tuple[str, Mapping[str, float] | None]]:
    """The tones of a batch by name: base and loads."""
    uids: tuple[str, ...] = (batch.recipe_uid,) if batch.recipe_uid else ()
    if batch.design_uid:
        design = library().find_one(DesignRecord, batch.design_uid)
        uids = design.recipes if design else ()
    found = [recipe for uid in uids if (recipe := library().find_one(RecipeRecord, uid))]
    known = {recipe.name: (recipe.cement_uid, recipe.loads) for recipe in found}
    return {**known, UNKNOWN: (next(iter(palette().bases)), None)}


def _at_demould(batch: BatchRecord, base: str, loads: Mapping[str, float] | None, known: Palette) -> None:
    show_cautions([caution_at("Demould")])
    asked = shade_asked("demould", "The shade of the fresh piece comes", state="demould")
    if not asked:
        return
    fresh = asked[0].shade
    if loads is None:
        dry = dry_from_wet(known, fresh, None, base=base)
        show_chips([Chip("Measured, fresh", fresh, asked[0].origin), Chip("It is heading for, dry", dry)])
    else:
        _judged(check_demould(known, loads, base, fresh), asked[0].origin)
    show_trust("demould")
    _keep_piece(batch, asked[0], "demould")


def _judged(check: DemouldCheck, origin: str) -> None:
    st.subheader(check.track.capitalize())
    st.markdown(plain(check.words))
    show_chips(
        [
            Chip("Measured, fresh", check.measured, origin),
            Chip("Predicted, fresh", check.predicted, f"dE00 {check.delta_e:.1f} from the measured"),
            Chip("It is heading for, dry", check.dry_now),
            Chip("Predicted, dry", check.dry_planned, f"dE00 {check.dry_delta_e:.1f} from where it is heading"),
        ]
    )
    if check.causes:
        rows = [[cause.words, f"{cause.weight:.0%}", f"dE00 {cause.delta_e:.1f}"] for cause in check.causes]
        show_table(["What may have gone wrong", "How likely of these", "Moves the shade by"], rows)


def _at_the_end(batch: BatchRecord, base: str, loads: Mapping[str, float] | None, known: Palette) -> None:
    """The dry piece: how near it came, kept for learning, and the recipe for the next batch."""
    asked = shade_asked("finished", "The shade of the dry piece comes", state="dry")
    if not asked:
        return
    dry = asked[0].shade
    recipe = library().find_one(RecipeRecord, batch.recipe_uid) if batch.recipe_uid else None
    target = Shade(recipe.wanted_lab) if recipe is not None and recipe.wanted_lab else None
    chips = [Chip("Measured, dry", dry, asked[0].origin)]
    chips += [Chip("Predicted, dry", known.predict(loads, base, "dry"))] if loads is not None else []
    chips += [Chip("Wanted", target, f"dE00 {float(delta_e_2000(dry.lab, target.lab)):.1f} off")] if target else []
    show_chips(chips)
    show_trust("finished")
    _keep_piece(batch, asked[0], "dry")
    if target is None or loads is None:
        return
    st.subheader("The next batch")
    if st.button("Correct the recipe for the next batch", key="finished.mend"):
        with guard(), st.spinner("Correcting"):
            limits = Limits(cement_g=batch.cement_g or 780.0)
            in_hand().mended = mend_next_batch(known, loads, dry, target, base=base, limits=limits)
    mended = in_hand().mended
    if mended is not None:
        rows = [
            [
                known.pigments[name].label,
                f"{loads.get(name, 0.0):.2%}",
                f"{load:.2%}",
                f"{mended.grams.get(name, 0):g} g",
            ]
            for name, load in mended.loads.items()
        ]
        show_table(["Pigment", "Last batch", "Next batch", f"In {mended.cement_g:g} g of cement"], rows)
        if st.button("Take it to the batch", key="finished.take"):
            name = f"{batch.name or 'batch'}, corrected"
            take_to_batch(Casting(name, (Tone(name, mended.base, mended.loads),), mended.cement_g))
            turn_to("batch")


def _keep_piece(batch: BatchRecord, asked: Wanted, state: str) -> None:
    place = "demould" if state == "demould" else "finished"
    name = st.text_input("Name of the piece", key=start_with(f"{place}.name", ""))
    if st.button("Keep this piece as a swatch", key=f"{place}.keep"):
        with guard():
            swatch = keep_piece(batch, asked, in_hand().measured.get(place), name=name, state=state)
            st.success(f"Kept: {plain(swatch.name)}. The next learning counts it.")


def _drying(batch: BatchRecord, base: str, loads: Mapping[str, float] | None, known: Palette) -> None:
    weights = library().list(DryingWeight, batch_uid=batch.uid)
    pieces = sorted({each.piece for each in weights}) or ["piece 1"]
    one, two = st.columns(2)
    piece = one.selectbox("Piece", pieces, key=kept("drying.piece"), accept_new_options=True) or pieces[0]
    step = two.number_input(
        "Step of the scale, g", 0.001, 50.0, step=0.1, format="%.3f",
        key=start_with("drying.step", float(settings().settings.get("scale_step_g", 0.1))),
    )  # fmt: skip
    _weigh(batch, piece)
    own = _in_time([each for each in weights if each.piece == piece])
    if not own:
        st.info("Weigh the piece when it leaves the mould, then once a day, always on the same scale.")
        return
    days, grams = [day for day, _ in own], [mass for _, mass in own]
    drying = follow_drying(days, grams, scale_step_g=step)
    _verdict(drying, batch, weights)
    st.image(_curve(drying, days, grams), caption=f"{piece}: weights, the curve they predict, and its doubt")
    if loads is not None:
        now = drying.today
        show_chips(
            [
                Chip("Fresh from the mould", known.predict(loads, base, "demould")),
                Chip(f"Day {now:.0f}, to be expected", drying.shade(known, loads, base, now)),
                Chip("Dry", known.predict(loads, base, "dry")),
            ],
            height_px=80,
        )
    if drying.verdict == "seal":
        show_cautions([caution_at("Dry and seal")])


def _weigh(batch: BatchRecord, piece: str) -> None:
    with st.form("drying.weigh"):
        one, two, three = st.columns(3)
        day = one.date_input("Weighed on", date.today(), format="DD.MM.YYYY")
        hour = two.time_input("at", datetime.now().replace(second=0, microsecond=0).time())
        grams = three.number_input("The scale shows, g", 0.0, 100_000.0, None, format="%.2f")
        if st.form_submit_button("Note this weight"):
            with guard():
                if not grams:
                    raise InputError("Type the weight the scale shows, in grams.")
                when = datetime.combine(day, hour).astimezone(UTC)
                library().save(DryingWeight(batch_uid=batch.uid, piece=piece, weighed_at=when, mass_g=grams))
                st.rerun()


def _in_time(weights: list[DryingWeight]) -> list[tuple[float, float]]:
    """(days since the first weight, g), in the order of time."""
    dated = [each for each in weights if each.weighed_at is not None]
    if dated:
        first = min(each.weighed_at for each in dated if each.weighed_at)
        points = [((each.weighed_at - first).total_seconds() / 86400, each.mass_g) for each in dated if each.weighed_at]
    else:
        points = [((each.hours or 0.0) / 24, each.mass_g) for each in weights]
    return sorted(points)


def _verdict(drying: Drying, batch: BatchRecord, weights: list[DryingWeight]) -> None:
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
    )


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
