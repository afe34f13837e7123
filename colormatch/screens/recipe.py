"""Recipe: the wanted shade becomes grams to weigh, with what it will look like wet, dry and sealed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

import streamlit as st

from colormatch.bench.batch import Tone, round_to
from colormatch.bench.cautions import caution_at
from colormatch.loads import Mix
from colormatch.palette import Palette
from colormatch.recipes import Limits, Recipe, explain_reach, find_recipes, reach
from colormatch.render import reach_picture
from colormatch.screens.drawing import (
    SAID_LAST,
    Chip,
    in_order,
    plain,
    show_cautions,
    show_chips,
    show_table,
    state_words,
)
from colormatch.screens.guard import guard
from colormatch.screens.keeping import keep_recipe, tags_of
from colormatch.screens.routes import onward, turn_to
from colormatch.screens.state import Casting, Found, in_hand, start_with, take_to_batch
from colormatch.screens.studios import palette, settings, stock_on_hand


def page() -> None:
    st.title("Recipe")
    wanted = in_hand().wanted
    if wanted is None:
        st.info("First say which shade you want.")
        onward("shade", "Choose a shade")
        return
    show_chips([Chip("Wanted", wanted.shade, wanted.origin)], height_px=70)
    known = palette()
    with st.form("recipe.limits"):
        base, state, limits = _limits(known)
        asked = st.form_submit_button("Find recipes", type="primary")
    if asked:
        with st.spinner("Trying every set of pigments"):
            recipes = find_recipes(known, wanted.shade, base=base, limits=limits(), state=state)
            near = any(recipe.in_reach for recipe in recipes)
            report = None if near else explain_reach(known, wanted.shade, base=base, limits=limits(), state=state)
        in_hand().found = Found(tuple(recipes), wanted, report)
    found = in_hand().found
    if found is None:
        return
    if found.wanted is not wanted:
        st.warning("The recipes below are for the shade you wanted before. Find recipes again for this one.")
    _reach(found)
    recipe = _choice(found.recipes)
    _show(recipe, found, known)


def _limits(known: Palette) -> tuple[str, str, Callable[[], Limits]]:
    kept = settings().settings
    one, two, three = st.columns(3)
    base = one.selectbox(
        "Cement",
        list(known.bases),
        format_func=lambda name: known.bases[name].label,
        key=start_with("recipe.base", next(iter(known.bases))),
    )
    cement_g = two.number_input(
        "Dry cement of the batch, g", 1.0, 100_000.0, step=10.0, format="%.1f", key=start_with("recipe.cement_g", 780.0)
    )
    states = ["dry", *known.states]
    state = three.selectbox(
        "The shade is wanted",
        states,
        format_func=lambda each: state_words(each).lower(),
        key=start_with("recipe.state", "dry"),
    )
    one, two, three = st.columns(3)  # row by row, so that the order is the same on a phone
    cap = one.number_input(
        "Most pigment in all, % of the cement",
        0.1,
        10.0,
        step=0.5,
        format="%.1f",
        key=start_with("recipe.cap", 100 * float(kept.get("load_cap", 0.05))),
    )
    most = two.number_input("Most pigments", 1, 5, key=start_with("recipe.most", 4))
    step = three.number_input(
        "Step of the scale, g",
        0.001,
        100.0,
        step=0.1,
        format="%.3f",
        key=start_with("recipe.step", float(kept.get("scale_step_g", 0.1))),
    )
    limits = partial(
        Limits,
        load_cap=cap / 100,
        max_pigments=int(most),
        cement_g=cement_g,
        scale_step_g=step,
        **_pigments(known),
    )
    return base, state, limits


def _pigments(known: Palette) -> dict[str, Any]:
    """The limits that name pigments: what must or must not be used, what is in stock, a dose decided already."""
    one, two, three = st.columns(3)
    must = one.multiselect(
        "Must be used",
        list(known.pigments),
        format_func=lambda name: known.pigments[name].label,
        key=start_with("recipe.must", []),
    )
    never = two.multiselect(
        "Must not be used",
        list(known.pigments),
        format_func=lambda name: known.pigments[name].label,
        key=start_with("recipe.never", []),
    )
    on_hand = three.checkbox("No more than is in stock", key=start_with("recipe.stock", False))
    one, two, _ = st.columns(3)
    fixed = one.selectbox(
        "Dose decided already (as in the other tone)",
        ["", *known.pigments],
        format_func=lambda name: known.pigments[name].label if name else "none",
        key=start_with("recipe.fixed", ""),
    )
    dose = two.number_input(
        "That dose, % of the cement", 0.0, 10.0, step=0.1, format="%.3f", key=start_with("recipe.fixed_load", 1.0)
    )
    return {
        "stock_g": stock_on_hand() if on_hand else {},
        "must_use": tuple(must),
        "never_use": tuple(never),
        "fixed_loads": {fixed: dose / 100} if fixed else {},
    }


def _choice(recipes: Sequence[Recipe]) -> Recipe:
    places = list(range(len(recipes)))
    key = start_with("recipe.chosen", 0)
    if st.session_state[key] not in places:
        st.session_state[key] = 0
    place = st.radio(
        "Recipes, best first", places, key=key,
        format_func=lambda i: _heading(i + 1, recipes[i]),
        captions=[plain(recipe.verdict) for recipe in recipes],
    )  # fmt: skip
    return recipes[place]


def _heading(number: int, recipe: Recipe) -> str:
    parts = " + ".join(recipe.palette.pigments[name].label for name in recipe.grams) or "no pigment"
    return plain(f"{number}. {parts} ({recipe.total_load:.1%})")


def _show(recipe: Recipe, found: Found, known: Palette) -> None:
    chips = [Chip("Wanted", found.wanted.shade)]
    chips += [Chip(state_words(state), recipe.predict(state)) for state in in_order(["dry", *recipe.palette.states])]
    show_chips(chips)
    left, right = st.columns(2)
    with left:
        _grams(recipe)
    with right:
        _figures(recipe)
    _small_doses(recipe)
    for caution in recipe.cautions:
        st.warning(plain(caution))
    show_cautions([caution_at("Weigh"), caution_at("Water"), SAID_LAST])
    _onward(recipe, found)


def _grams(recipe: Recipe) -> None:
    rows = [[recipe.palette.bases[recipe.base].label, f"{recipe.cement_g:g}", ""]]
    rows += [
        [recipe.palette.pigments[name].label, f"{grams:g}", f"{recipe.loads[name]:.2%}"]
        for name, grams in recipe.grams.items()
    ]
    show_table(["To weigh", "g", "of the cement"], rows)


def _small_doses(recipe: Recipe) -> None:
    """Doses too small for the scale: what to weigh instead, and the batch from which it is not needed."""
    if not recipe.small_doses:
        return
    better = recipe.preblended
    with st.expander("Doses too small for this scale: weigh a pre-blend"):
        step = better.limits.scale_step_g
        rows = [[what, f"{round_to(grams, step):g}"] for what, grams in better.weighing(better.palette.label)]
        show_table(["To weigh", "g"], rows)
        words = ""
        if recipe.expected_delta_e - better.expected_delta_e >= 0.05:
            words = f"Expected dE00 {better.expected_delta_e:.1f} instead of {recipe.expected_delta_e:.1f}."
        if recipe.larger_batch_g is not None:
            words += f" From {recipe.larger_batch_g:g} g of cement on, every dose is large enough by itself."
        st.markdown(plain(words.strip()))


def _figures(recipe: Recipe) -> None:
    cost = "price unknown" if recipe.cost is None else f"{recipe.cost:.2f} {settings().currency}"
    rows = [
        ["By the model, from the wanted shade", f"dE00 {recipe.delta_e:.2f}"],
        ["To expect when cast", f"dE00 {recipe.expected_delta_e:.1f}"],
        ["Pigment in all", f"{recipe.total_load:.2%}"],
        ["Pigments cost", cost],
        ["Its own change from daylight to lamplight", f"dE00 {recipe.inconstancy:.1f}"],
        ["If one dose is 5 % over, at most", f"dE00 {recipe.slip_delta_e:.1f}"],
    ]
    show_table([], rows)


def _reach(found: Found) -> None:
    """Say it where the shade cannot be reached: how far off, what stops it, what would help."""
    report, best = found.reach, found.recipes[0]
    if report is not None and not report.in_reach:
        st.subheader("Out of reach")
        for sentence in (f"The nearest shade is dE00 {report.distance:.1f} away.", *report.obstacles):
            st.markdown(plain(sentence))
        if report.remedies:
            st.markdown("What would help:")
            st.markdown("\n".join(f"- {plain(remedy.sentence)}" for remedy in report.remedies))
    with st.expander("What this palette reaches"):
        if st.toggle("Draw it", key="recipe.reach"):
            with st.spinner("Drawing"):
                drawn = reach(best.palette, best.base, best.limits, state=best.state)
            st.image(
                reach_picture(drawn, found.wanted.shade), caption="Slices of equal L*; the cross is the wanted shade"
            )


def _onward(recipe: Recipe, found: Found) -> None:
    name = st.text_input("Name", key=start_with("recipe.name", ""), placeholder="what you would write on its lid")
    tags = st.text_input("Tags", key=start_with("recipe.tags", ""), placeholder="separated by commas")
    notes = st.text_area("Notes", key=start_with("recipe.notes", ""), height=68)
    stamp = f"{recipe.base}|{sorted(recipe.loads.items())}|{found.wanted.shade.lab.tolist()}"
    keep, batch = st.columns(2)
    if keep.button("Keep as a swatch", key="recipe.keep", width="stretch"):
        with guard():
            swatch = keep_recipe(recipe, found.wanted, name=name, tags=tags_of(tags), notes=notes)
            in_hand().kept_recipes[stamp] = swatch.recipe_uid or ""
            st.success(
                f"Kept: {plain(swatch.name)}. Its shades are predicted; measure the dry piece to make them yours."
            )
    if batch.button("Take it to the batch", key="recipe.batch", type="primary", width="stretch"):
        title = name.strip() or "Unnamed recipe"
        tone = Tone(title, Mix.of(recipe.base, recipe.loads))
        kept_as = in_hand().kept_recipes.get(stamp) or None
        take_to_batch(Casting(title, (tone,), recipe.cement_g, recipe_uid=kept_as, wanted=found.wanted.shade))
        turn_to("batch")


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
