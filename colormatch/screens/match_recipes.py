"""A recipe as an answer: wanted and predicted touching, the verdict, the grams, and the two things to do with it."""

from __future__ import annotations

from hashlib import sha256

import streamlit as st

from colormatch.basis import Amounts
from colormatch.bench.batch import Tone
from colormatch.bench.cautions import PREBLEND
from colormatch.bench.sheet import grams_as_shown
from colormatch.colorimetry import lab_to_hex
from colormatch.library import Mould, Swatch
from colormatch.loads import Mix
from colormatch.recipes import Recipe
from colormatch.saying import compared, seen, shade_name
from colormatch.screens.bench_plan import usual_plan
from colormatch.screens.blocks import amounts, answer, card, touching
from colormatch.screens.drawing import numbers, plain, show_cautions, state_words
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.keeping import tags_of
from colormatch.screens.routes import turn_to
from colormatch.screens.state import Found
from colormatch.screens.studios import library, palette
from colormatch.screens.tapping import Card, tap_cards
from colormatch.screens.work import Work
from colormatch.workshop.keeping import keep_recipe
from colormatch.workshop.materials import distinct
from colormatch.workshop.plans import Casting, Plan, keep_plan, plan

_WANTS_TILES = 4.0  # CIEDE2000 to be expected, from which tiles are worth casting first


def show_recipe(recipe: Recipe, found: Found, work: Work) -> None:
    """The card of the recipe chosen, with the grams of the sheet it leads to."""
    with card("recipe"):
        predicted = recipe.predict(recipe.state)
        state = state_words(recipe.state).lower()
        touching([("wanted", found.wanted.shade.lab), (f"{state}, predicted", predicted.lab)])
        answer(verdict(recipe), expected(recipe), numbers=numbers(predicted.lab))
        planned = _planned(recipe, found, work)
        bowl = planned.batch.bowls[0]
        fine, most_first = planned.batch.scale_step_g, sorted(bowl.pigments_g.items(), key=lambda each: -each[1])
        rows = [(recipe.palette.label(name), f"{grams_as_shown(grams, fine)} g") for name, grams in most_first]
        amounts(rows or [("No pigment", "")], note=_of_cement(recipe, planned))
        _cautions(recipe, planned)
        with st.container(horizontal=True, key="hand-match"):
            weigh = st.button("Weigh it", type="primary", width="stretch", key="match.weigh")
            with st.popover("Keep", width="content"):
                _keep(recipe, found, work)
        if weigh:
            with guard():
                turn_to("bench", batch=keep_plan(library(), palette(), planned).uid)
        show_notice("match")


def _planned(recipe: Recipe, found: Found, work: Work) -> Plan:
    """The batch it would be: by her usual mould, or by the dry cement that was asked for."""
    title = work.get("name") or _suggested(recipe)
    kept = work.get("kept", {}).get(_stamp(recipe, found))
    tone = Tone(title, Mix.of(recipe.base, recipe.loads))
    casting = Casting(title, (tone,), recipe_uid=kept, wanted=found.wanted.shade)
    if work.get("cement_g") is not None:
        return plan(library(), palette(), casting, cement_g=recipe.cement_g)
    return usual_plan(casting, palette())


def verdict(recipe: Recipe) -> str:
    """What the eye will see, in a sentence; never surer than what is known of the jars."""
    lab, wanted = recipe.predict(recipe.state).lab, recipe.target.lab
    if recipe.delta_e >= 1:
        return f"{compared(lab, wanted).capitalize()} than wanted: {seen(recipe.delta_e)}."
    if recipe.expected_delta_e < 2:
        return f"{seen(recipe.expected_delta_e).capitalize()}."
    if recipe.expected_delta_e < _WANTS_TILES:
        return "Close: the difference may be seen side by side."
    return "A first try: these jars are not tested enough to promise a match."


def expected(recipe: Recipe) -> str:
    """How far off it is likely to come out, everything uncertain counted in."""
    return f"{recipe.off.capitalize()}."


def _of_cement(recipe: Recipe, planned: Plan) -> str:
    of_cement = Amounts().total(recipe.loads)
    cement = f"for {planned.batch.cement_g:g} g of {recipe.palette.label(recipe.base)}, pigment {of_cement} in all"
    mould = library().find_one(Mould, planned.mould_uid) if planned.mould_uid else None
    return f"{cement}: {mould.name}, once" if mould else cement


def _cautions(recipe: Recipe, planned: Plan) -> None:
    """What to know first; doses too small for the scale with what to weigh instead."""
    for caution in recipe.cautions:
        if not (planned.small and caution.startswith("Small for this scale")):  # said below, with the grams
            st.warning(plain(caution))
    if not planned.small:
        return
    with st.expander("A dose is small for this scale: weigh a pre-blend"):
        for dose in planned.small:
            st.markdown(plain(dose.words))
        if recipe.larger_batch_g is not None:
            st.markdown(plain(f"From {recipe.larger_batch_g:g} g of cement on, every dose is large enough by itself."))
        show_cautions([PREBLEND])


def _keep(recipe: Recipe, found: Found, work: Work) -> None:
    name = st.text_input("Name", help="What you would write on its lid.", **work.field("name", _suggested(recipe)))
    tags = st.text_input("Tags", placeholder="separated by commas", **work.field("tags", ""))
    notes = st.text_area("Notes", height=68, **work.field("notes", ""))
    if not st.button("Keep as a swatch", type="primary", key="match.keep"):
        return
    with guard():
        photograph = found.wanted.photograph.sha256 if found.wanted.photograph else None
        swatch = keep_recipe(
            library(), recipe, found.wanted.shade, name=name, photograph_uid=photograph, tags=tags_of(tags), notes=notes
        )
        kept = {**work.get("kept", {}), _stamp(recipe, found): swatch.recipe_uid or ""}
        work.put(kept=kept, name=None, tags=None, notes=None)
        say_then_draw(
            "match", f"Kept: {swatch.name}. Its shades are predicted; measure the dry piece to make them yours."
        )


def _stamp(recipe: Recipe, found: Found) -> str:
    """What tells this recipe for this shade from any other, short enough to be the name of a value."""
    whole = f"{recipe.base}|{sorted(recipe.loads.items())}|{found.wanted.shade.lab.tolist()}"
    return sha256(whole.encode()).hexdigest()[:32]


def _suggested(recipe: Recipe) -> str:
    """A name nobody has yet."""
    return distinct(shade_name(recipe.predict("dry").lab).capitalize(), [each.name for each in library().list(Swatch)])


def offer_others(found: Found, chosen: Recipe, work: Work) -> None:
    """The other recipes, to tap."""
    if len(found.recipes) < 2:
        return
    st.header("All ways")
    cards = [_other(place, each) for place, each in enumerate(found.recipes)]
    tap_cards(
        "recipes", "Recipes", cards, layout="rows", chosen=str(found.recipes.index(chosen)),
        on_tap=lambda key: work.put(chosen=dict(found.recipes[int(key)].loads)), reveal="card-recipe",
    )  # fmt: skip


def _other(place: int, recipe: Recipe) -> Card:
    lab, wanted = recipe.predict(recipe.state).lab, recipe.target.lab
    jars = " + ".join(recipe.palette.label(name) for name in recipe.grams) or "No pigment"
    said = compared(lab, wanted)
    way = "" if said == "as wanted" else f", {said}"
    why = (recipe.reasons[0] if recipe.reasons else recipe.verdict).partition(":")[0].rstrip(".")
    return Card(
        str(place), jars, (f"{why}{way}", f"about {recipe.expected_delta_e:.1f} off on average"),
        (lab_to_hex(wanted), lab_to_hex(lab)), alt=f"wanted beside predicted, {shade_name(lab)}",
    )  # fmt: skip


def out_of_reach(found: Found) -> None:
    """Where the shade cannot be reached: what stops it, and what would help."""
    report = found.reach
    if report is None or report.in_reach:
        return
    with card("reach"):
        answer("Your jars do not reach this shade.", " ".join(report.obstacles), numbers=f"dE00 {report.distance:.1f}")
        helps = [each.sentence for each in report.remedies]
        if found.buy or helps:
            st.markdown("\n".join(f"- {plain(sentence)}" for sentence in (*found.buy, *helps)))
