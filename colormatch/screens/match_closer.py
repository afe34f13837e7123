"""A closer look at a recipe, in folds: states, other light, cost, slips, reach; and what it may be made of."""

from __future__ import annotations

import streamlit as st

from colormatch.arrays import SCALE_STEPS_G
from colormatch.recipes import Recipe, reach
from colormatch.saying import seen
from colormatch.science import is_here
from colormatch.screens.blocks import small, touching
from colormatch.screens.drawing import WORDS, Chip, notation, plain, show_chips, state_words
from colormatch.screens.guard import guard
from colormatch.screens.match_amounts import how_much
from colormatch.screens.match_limits import ANOTHER_LAMP, Asked
from colormatch.screens.reach_chart import show_reach
from colormatch.screens.state import Found, in_hand
from colormatch.screens.studios import library, settings
from colormatch.screens.typed_numbers import kept_number
from colormatch.screens.work import Work
from colormatch.states import in_order, state_kind
from colormatch.workshop.dry_ahead import DryAhead, dry_ahead
from colormatch.workshop.lights import keep_lamp, light_words, lights
from colormatch.workshop.shelf import defaults


def closer_look(recipe: Recipe, found: Found, work: Work, light: str) -> None:
    """Folded away until it is asked for."""
    with st.expander("A closer look: wet and sealed, other light, cost"):
        st.subheader("How much of each")
        how_much(recipe, work)
        st.subheader("From the mould to the sealed piece")
        states = in_order(["dry", *recipe.palette.states])
        show_chips([Chip(state_words(state), recipe.predict(state)) for state in states], height_px=80)
        if state_kind(recipe.state) in ("demould", "wet"):
            st.subheader("As it is wanted, once it is dry")
            if st.toggle("Work it out", key="match.dry"):
                dry = _dry_ahead(found, recipe)
                touching([("wanted", found.wanted.shade.lab), ("dry, about", dry.shade.lab)], note=dry.words)
        st.subheader("In other light")
        st.markdown(plain(
            f"Its own change from daylight to {light_words(light)}, which is not a miss of the match: "
            f"{seen(recipe.inconstancy)} (dE00 {recipe.inconstancy:.1f} at most)."
        ))  # fmt: skip
        if recipe.metamerism is not None:
            st.markdown(plain(
                f"Against the spectrum that is wanted, in that light: {seen(recipe.metamerism)} "
                f"(dE00 {recipe.metamerism:.1f} at most)."
            ))  # fmt: skip
        st.subheader("Cost, and a slip of the hand")
        per_kg = None if recipe.cost is None else 1000 * recipe.cost / recipe.cement_g
        cost = "unknown: a jar has no price" if per_kg is None else f"{per_kg:.2f} {settings().currency}"
        st.markdown(plain(f"Pigments for 1 kg of cement: {cost}."))
        st.markdown(plain(
            f"If one dose is 5 % over: {seen(recipe.slip_delta_e)} (dE00 {recipe.slip_delta_e:.1f} at most)."
        ))  # fmt: skip
        if is_here() and st.toggle("Its Munsell name", key="match.munsell"):
            name = notation(recipe.predict(recipe.state).lab) or "It has none"
            small(f"{name}: {WORDS['Munsell']}")
        st.subheader("What these jars reach")
        if st.toggle("Draw it", key="match.reach"):
            with st.spinner("Drawing"):
                drawn = reach(recipe.palette, recipe.base, recipe.limits, state=recipe.state)
            show_reach(drawn, found.wanted.shade)


def _dry_ahead(found: Found, recipe: Recipe) -> DryAhead:
    """Worked out anew only where recipes were found anew: for another shade, state or cement, or by newer knowledge."""
    hand = in_hand()
    if hand.dry is None or hand.dry[0] is not found:
        with st.spinner("Working it out"):
            ahead = dry_ahead(library(), recipe.palette, found.wanted.shade, base=recipe.base, state=recipe.state)
        hand.dry = found, ahead
    return hand.dry[1]


def made_of(work: Work, asked: Asked) -> None:
    """What differs this time from the studio's defaults; recipes follow at once."""
    known, pigments = asked.palette, list(asked.palette.pigments)
    with st.expander("What it may be made of"):
        one, two = st.columns(2)
        one.selectbox(
            "Cement", list(known.bases), format_func=known.label, **work.field("base", asked.base, known.bases)
        )
        states = ["dry", *known.states]
        two.selectbox(
            "The shade is wanted", states, format_func=lambda each: state_words(each).lower(),
            **work.field("state", asked.state, states),
        )  # fmt: skip
        with one:
            kept_number(work, "cement_g", "Dry cement of the batch", asked.usual.cement_g, unit="g", low=1)
            kept_number(work, "cap_percent", "Most pigment in all", 100 * asked.usual.load_cap,
                        unit="% of the cement", low=0.1, high=10)  # fmt: skip
        with two:
            kept_number(work, "most", "Most pigments", asked.usual.max_pigments, low=1, high=5, whole=True)
            low, high = SCALE_STEPS_G
            kept_number(work, "step_g", "Step of the scale", asked.usual.scale_step_g, unit="g", low=low, high=high)
        must = asked.changed["must_use"]  # what must be used cannot be barred
        free = [name for name in pigments if name not in must]
        for column, label, name, among in (
            (one, "Must be used", "must", pigments),
            (two, "Must not be used", "never", free),
        ):
            column.multiselect(label, among, format_func=known.label, select_all=False, **work.field(name, [], among))
        st.toggle("No more than is in stock", **work.field("in_stock", True))
        _seen_in(work)
        if asked.changed["fixed_loads"]:
            st.markdown(plain("Decided already: " + _fixed(asked) + "."))
            st.button("Let it be chosen", on_click=lambda: work.put(fixed=None))


def _seen_in(work: Work) -> None:
    """The light that recipes are held against besides daylight: a usual one, one of hers, or any by its name."""
    known = {**lights(library()), ANOTHER_LAMP: "another lamp, by its name"}
    usual = defaults(library()).light
    st.selectbox(
        "The piece is seen in", list(known), format_func=known.__getitem__,
        **work.field("light", usual if usual in known else "", among=known),
    )  # fmt: skip
    if work.get("light") == ANOTHER_LAMP:
        st.text_input("Name of the lamp", help="As in the standards: FL11, HP1, LED-B4.", **work.field("lamp", ""))
    with st.popover("A lamp of mine, measured"):
        typed = Work("form lamp")
        name = st.text_input("Its name", placeholder="Over the bench", **typed.field("name", ""))
        table = st.file_uploader("A table: wavelengths in nm, power", type=["csv", "tsv", "txt"], key="lamp.file")
        if st.button("Keep the lamp", type="primary", key="lamp.keep", disabled=table is None) and table is not None:
            with guard():
                kept_as = keep_lamp(library(), name, table.name, table.getvalue()).name
                typed.drop()
                work.put(light=kept_as)
                st.rerun()


def _fixed(asked: Asked) -> str:
    return ", ".join(
        f"{100 * load:.2f} % {asked.palette.label(name)}" for name, load in asked.changed["fixed_loads"].items()
    )
