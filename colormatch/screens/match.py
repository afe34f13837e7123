"""Match: a photograph becomes the wanted shade, the shade recipes from her jars; one page that grows downward."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from colormatch.recipes import Recipe
from colormatch.science import warm
from colormatch.screens.blocks import answer, touching, undo_line
from colormatch.screens.guard import guard, show_notice
from colormatch.screens.match_closer import closer_look, made_of
from colormatch.screens.match_limits import Asked, asked_for
from colormatch.screens.match_many import many_shades
from colormatch.screens.match_recipes import offer_others, out_of_reach, show_recipe
from colormatch.screens.measuring import shade_asked, show_trust
from colormatch.screens.routes import turn_to
from colormatch.screens.state import Found, Wanted, in_hand
from colormatch.screens.work import Work

TONES = ("First tone", "Second tone")
_STEPS = {  # what undo takes back, by the value of the work that changed
    "photograph": "the change of photograph",
    "given": "the shade given",
    "marks": "the mark",
    "chosen": "the way tapped",
    "reference": "what is in the frame",
    "name": "the name",
}


def page() -> None:
    st.title("Match")
    work = Work("match", title="Match")
    photograph, answers = st.columns(2, gap="medium")
    with photograph:
        shades = shade_asked("match", two_tones=True)
    asked = asked_for(work)
    if not shades:
        if asked is not None:
            many_shades(asked)
        _undo(work)
        return
    with answers:
        wanted = _one_of(work, shades)
        in_hand().wanted = wanted
        if asked is None:
            _empty_shelf(wanted)
        else:
            answered = _answer(work, wanted, asked)
    if asked is not None:
        if answered is not None:
            closer_look(*answered, work, asked.light)
        made_of(work, asked)
        many_shades(asked)
    show_trust("match")
    _undo(work)
    warm()


def _undo(work: Work) -> None:
    """The last step back, by its name; the one after it has its turn then."""
    changed = work.last_change()
    if not changed:
        show_notice("match.undo")
        return
    label = next((words for name, words in _STEPS.items() if name in changed), "what it may be made of")
    undo_line("match.undo", label, work.undo)


def _answer(work: Work, wanted: Wanted, asked: Asked) -> tuple[Recipe, Found] | None:
    """The recipe shown and all that were found, or None where what is asked for contradicts itself, which is said."""
    with guard():
        found = _found(wanted, asked)
        recipe = _chosen(work, found.recipes)
        st.header("Best recipe from your jars" if found.reach is None else "The nearest your jars come")
        show_recipe(recipe, found, work)
        out_of_reach(found)
        offer_others(found, recipe, work)
        return recipe, found
    return None


def _one_of(work: Work, shades: Sequence[Wanted]) -> Wanted:
    """Of two tones the one that recipes are wanted for."""
    if len(shades) == 1:
        return shades[0]
    names = list(TONES[: len(shades)])
    tone = st.segmented_control("Recipes for", names, **work.field("tone", names[0], among=names)) or names[0]
    return shades[names.index(tone)]


def _empty_shelf(wanted: Wanted) -> None:
    touching([("wanted", wanted.shade.lab)])
    answer("Nothing is on your shelf yet.", "Recipes use what you have: a cement, and the jars beside it.")
    if st.button("Fill the shelf", type="primary", width="stretch", key="match.shelf"):
        turn_to("studio")


def _found(wanted: Wanted, asked: Asked) -> Found:
    """The recipes; found again only where the shade, the limits or the knowledge has changed."""
    hand, stamp = in_hand(), asked.stamp(wanted)
    if hand.found is None or hand.found.stamp != stamp or hand.found.palette is not asked.palette:
        with st.spinner("Trying every set of your jars"):
            hand.found = asked.find(wanted, stamp)
    return hand.found


def _chosen(work: Work, recipes: Sequence[Recipe]) -> Recipe:
    """The recipe that was tapped, as long as it is among those found."""
    loads = work.get("chosen")
    return next((each for each in recipes if dict(each.loads) == loads), recipes[0])


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
