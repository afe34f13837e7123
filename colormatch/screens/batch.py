"""Batch: what to weigh for the moulds at hand, as a sheet to print, and step by step at the bowl."""

from __future__ import annotations

from datetime import date

import streamlit as st

from colormatch.bench.batch import STUDIO_CAP, WATER_PER_CEMENT, Batch, Bowl, Tone, bowls_for, plan_batch
from colormatch.bench.cautions import STEPS, USES, caution_for
from colormatch.bench.sheet import compose_sheet
from colormatch.bench.sheet_html import sheet_html
from colormatch.bench.sheet_pdf import sheet_pdf
from colormatch.library import DesignRecord, Mould, RecipeRecord
from colormatch.loads import Mix
from colormatch.palette import Palette
from colormatch.screens.at_the_bowl import at_the_bowl
from colormatch.screens.bowl import Amount, Scales, begin
from colormatch.screens.drawing import Chip, in_order, plain, show_cautions, show_chips, show_table, state_words
from colormatch.screens.guard import guard, show_notice
from colormatch.screens.routes import onward
from colormatch.screens.state import TAKEN, Bench, Casting, in_hand, start_with
from colormatch.screens.studios import library, palette, settings

PLAN, BOWL = "Weigh sheet", "At the bowl"
BY_MOULD, BY_CEMENT, OTHER = "By the mould", "By the dry cement", "another"


def page() -> None:
    st.title("Batch")
    show_notice("batch")
    key, casting = _casting()
    if casting is None:
        st.info("First find a recipe, or keep one in the library.")
        onward("match", "Find a recipe")
        return
    known = palette()
    part = st.radio(
        "Part", [PLAN, BOWL], horizontal=True, label_visibility="collapsed", key=start_with("batch.part", PLAN)
    )
    if part == PLAN:
        _plan(key, casting, known)
    elif key not in in_hand().benches:
        st.info("First work out the weigh sheet.")
    else:
        at_the_bowl(key, casting, known)


def _casting() -> tuple[str, Casting | None]:
    """What is to be cast: what was taken along from another page, or a recipe or design of the library."""
    taken = in_hand().casting
    choices: dict[str, Casting] = {} if taken is None else {TAKEN: taken}
    recipes = {each.uid: each for each in library().list(RecipeRecord)}
    for each in recipes.values():
        tone = Tone(each.name, Mix.of(each.cement_uid, each.loads))
        choices[each.uid] = Casting(each.name, (tone,), recipe_uid=each.uid)
    for design in library().list(DesignRecord):
        tones = _design_tones(design, recipes)
        if tones:
            choices[design.uid] = Casting(design.name, tones, design_uid=design.uid)
    if not choices:
        return "", None
    key = start_with("batch.casting", next(iter(choices)))
    if st.session_state[key] not in choices:
        st.session_state[key] = next(iter(choices))
    chosen = st.selectbox("What is to be cast", list(choices), format_func=lambda uid: _title(choices[uid]), key=key)
    return chosen, choices[chosen]


def _title(casting: Casting) -> str:
    return f"{casting.name} (two tones)" if len(casting.tones) > 1 else casting.name


def _design_tones(design: DesignRecord, recipes: dict[str, RecipeRecord]) -> tuple[Tone, ...]:
    """The tones of a design that is kept, in the order of its recipes; empty when they are not two."""
    shown = design.content.get("tones")
    shares = [tone.get("share", 0.5) for tone in shown] if isinstance(shown, (list, tuple)) else [0.5, 0.5]
    kept = [recipes[uid] for uid in design.recipes if uid in recipes]
    if len(kept) != 2 or len(shares) != 2:
        return ()
    return tuple(
        Tone(each.name, Mix.of(each.cement_uid, each.loads), float(share))
        for each, share in zip(kept, shares, strict=True)
    )


def _plan(key: str, casting: Casting, known: Palette) -> None:
    ways = [BY_MOULD, BY_CEMENT] if casting.cement_g is None else [BY_CEMENT, BY_MOULD]
    way = st.radio("How much", ways, horizontal=True, key=start_with("batch.way", ways[0]))
    with st.form("batch.plan"):
        amount = _by_mould() if way == BY_MOULD else _by_cement(casting)
        scales = _scales()
        asked = st.form_submit_button("Work out the weigh sheet", type="primary")
    if asked:
        batch = _worked_out(casting, known, amount, scales)
        in_hand().benches[key] = Bench(
            batch, [begin(batch, place) for place in range(len(batch.bowls))], mould_uid=amount.mould_uid
        )
    if key in in_hand().benches:
        _sheet(in_hand().benches[key].batch, known)
        _print(casting, in_hand().benches[key].batch, known)


def _by_mould() -> Amount:
    moulds = {each.uid: each for each in library().list(Mould) if each.fill_weight_g}
    one, two, three, four = st.columns(4)
    chosen = one.selectbox(
        "Mould",
        [*moulds, OTHER],
        format_func=lambda uid: moulds[uid].name if uid in moulds else uid,
        key=start_with("batch.mould", next(iter(moulds), OTHER)),
    )
    fill = two.number_input(
        "Wet mix in another mould, g", 1.0, 50_000.0, step=10.0, format="%.1f", key=start_with("batch.fill", 400.0)
    )
    pieces = three.number_input("Pieces", 1, 1000, key=start_with("batch.pieces", 1))
    waste = four.number_input(
        "Left in bowls and on tools, %", 0.0, 100.0, step=1.0, format="%.1f", key=start_with("batch.waste", 10.0)
    )
    mould = moulds.get(chosen)
    fill_g = (mould.fill_weight_g if mould else None) or fill
    return Amount(fill_g=fill_g, pieces=int(pieces), waste=waste / 100, mould_uid=mould.uid if mould else None)


def _by_cement(casting: Casting) -> Amount:
    one, two, *_ = st.columns(4)
    cement = one.number_input(
        "Dry cement of all bowls, g", 1.0, 100_000.0, step=10.0, format="%.1f",
        key=start_with("batch.cement", casting.cement_g or 780.0),
    )  # fmt: skip
    pieces = two.number_input("Pieces", 1, 1000, key=start_with("batch.pieces", 1))
    return Amount(cement_g=cement, pieces=int(pieces))


def _scales() -> Scales:
    noted = settings().settings
    one, two, three, _ = st.columns(4)
    water = one.number_input(
        "Water to 100 g of cement, g", 10.0, 100.0, step=1.0, format="%.1f",
        key=start_with("batch.water", 100 * float(noted.get("water_per_cement", WATER_PER_CEMENT))),
    )  # fmt: skip
    step = two.number_input(
        "Step of the pigment scale, g", 0.001, 50.0, step=0.1, format="%.3f",
        key=start_with("batch.step", float(noted.get("scale_step_g", 0.1))),
    )  # fmt: skip
    bulk = three.number_input(
        "Step of the cement scale, g", 0.01, 50.0, step=0.1, format="%.2f", key=start_with("batch.bulk", 1.0)
    )
    return Scales(water_per_cement=water / 100, step_g=step, bulk_step_g=bulk)


def _worked_out(casting: Casting, known: Palette, amount: Amount, scales: Scales) -> Batch:
    used = max((tone.mix.total for tone in casting.tones), default=0.0)
    if amount.fill_g is None:
        bowls = tuple(Bowl(tone.name, tone.mix, amount.cement_g * tone.share) for tone in casting.tones)
    else:
        bowls = bowls_for(
            casting.tones, fill_g=amount.fill_g, pieces=amount.pieces, waste=amount.waste,
            water_per_cement=scales.water_per_cement,
        )  # fmt: skip
    return plan_batch(
        bowls,
        pieces=amount.pieces,
        waste=amount.waste,
        fill_g=amount.fill_g,
        # A recipe that was found under a higher cap keeps its own; plan_batch refuses more than 10 %.
        cap=max(float(settings().settings.get("load_cap", STUDIO_CAP)), used),
        maxima={name: pigment.maximum_load for name, pigment in known.pigments.items()},
        water_per_cement=scales.water_per_cement,
        scale_step_g=scales.step_g,
        bulk_step_g=scales.bulk_step_g,
    )


def _sheet(batch: Batch, known: Palette) -> None:
    for number, bowl in enumerate(batch.bowls, start=1):
        st.subheader(plain(bowl.name if len(batch.bowls) == 1 else f"Bowl {number}: {bowl.name}"))
        states = in_order(["dry", *known.states])
        show_chips(
            [Chip(state_words(state), known.predict(bowl.loads, bowl.base, state)) for state in states], height_px=56
        )
        rows = [[known.bases[bowl.base].label, f"{bowl.cement_g:g} g", ""]]
        rows += [
            [known.pigments[name].label, f"{grams:g} g", f"{bowl.loads[name]:.2%}"]
            for name, grams in bowl.pigments_g.items()
        ]
        rows += [["Water to start with", f"{bowl.water_start_g:g} g", ""]]
        rows += [["Water at most", f"{bowl.water_most_g:g} g", ""]]
        rows += [["Cap on pigment", f"{bowl.cap_g:.1f} g", f"{bowl.cap_g / bowl.cement_g:.1%}"]]
        show_table(["Into the bowl", "", "of the cement"], rows)
    show_cautions([f"{step.name}: {step.caution}" for step in STEPS])


def _print(casting: Casting, batch: Batch, known: Palette) -> None:
    """The sheet as a page to print, with its cost and what is to be said of its use."""
    prices = {name: base.price_per_kg for name, base in known.bases.items()}
    prices |= {name: pigment.price_per_kg for name, pigment in known.pigments.items()}
    labels = {name: base.label for name, base in known.bases.items()}
    labels |= {name: pigment.label for name, pigment in known.pigments.items()}
    uses = st.multiselect("What the pieces are for", USES, key=start_with("batch.uses", []))
    for use in uses:
        st.warning(plain(caution_for(use)))
    sheet = compose_sheet(
        batch,
        title=casting.name,
        palette=known,
        made_on=date.today(),
        prices_per_kg=prices,
        currency=settings().currency,
        labels=labels,
        uses=uses,
    )
    st.markdown(plain(" · ".join(sheet.facts)))
    page, pdf = st.columns(2)
    page.download_button(
        "Sheet to print (HTML)",
        sheet_html(sheet),
        f"{sheet.code}.html",
        "text/html",
        width="stretch",
        on_click="ignore",
    )
    pdf.download_button(
        "Sheet to print (PDF)",
        sheet_pdf(sheet),
        f"{sheet.code}.pdf",
        "application/pdf",
        width="stretch",
        on_click="ignore",
    )


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
