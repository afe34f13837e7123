"""Swatches: find what was kept, by words, pigment or colour; look at it, mend it, put it in the bin."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import streamlit as st

from colormatch.colorimetry import hex_to_lab
from colormatch.library import Near, RecipeRecord, ShadeRecord, Swatch, find, find_near
from colormatch.screens.drawing import STATES, Chip, in_order, moment_words, plain, show_chips, show_table, state_words
from colormatch.screens.exchange import bin_part, exchange_part
from colormatch.screens.guard import guard
from colormatch.screens.keeping import measured_shade, new_name, tags_of
from colormatch.screens.measuring import give_shade
from colormatch.screens.routes import turn_to
from colormatch.screens.state import in_hand, kept, start_with
from colormatch.screens.studios import library, palette
from colormatch.screens.swatch_sheet import show_swatches
from colormatch.shade import Shade

FIND, BIN, EXCHANGE = "Find", "Bin", "Exchange and backup"
LATEST, LIKE_WANTED, LIKE_COLOUR = "Latest first", "Nearest to the wanted shade", "Nearest to a screen colour"
MOST = 60


def page() -> None:
    st.title("Swatches")
    part = st.radio("Part", [FIND, BIN, EXCHANGE], horizontal=True, label_visibility="collapsed",
                    key=start_with("swatches.part", FIND))  # fmt: skip
    if part == BIN:
        bin_part()
    elif part == EXCHANGE:
        exchange_part()
    else:
        _find_part()


def _find_part() -> None:
    found = _search()
    if not found:
        st.info("No swatch fits. A recipe becomes a swatch on the page Recipe; a whole library comes in by exchange.")
        return
    show_swatches(found)
    st.caption("One swatch" if len(found) == 1 else f"{len(found)} swatches")
    swatches = {each.uid: each for each in (near.swatch if isinstance(near, Near) else near for near in found)}
    chosen = st.selectbox(
        "Look at", list(swatches), format_func=lambda uid: swatches[uid].name, key=kept("swatches.chosen")
    )
    with guard():
        _detail(swatches[chosen])


def _search() -> list[Any]:
    known = palette()
    one, two, three = st.columns(3)
    words = one.text_input("Words in name, tags or notes", key=start_with("swatches.words", ""))
    pigment = two.selectbox("With the pigment", ["", *known.pigments], key=kept("swatches.pigment"),
                            format_func=lambda name: known.pigments[name].label if name else "any")  # fmt: skip
    tags = sorted({tag for swatch in library().list(Swatch) for tag in swatch.tags})
    tag = three.selectbox("Tag", ["", *tags], format_func=lambda each: each or "any", key=kept("swatches.tag"))
    orders = [LATEST, *([LIKE_WANTED] if in_hand().wanted else []), LIKE_COLOUR]
    order = one.selectbox("Order", orders, key=kept("swatches.order"))
    wanted: dict[str, Any] = {"text": words, "pigment": pigment or None, "tag": tag or None, "limit": MOST}
    if order == LATEST:
        return find(library(), **wanted)
    state = three.selectbox(
        "By their shade when", list(STATES), format_func=state_words, key=start_with("swatches.state", "dry")
    )
    if order == LIKE_COLOUR:
        colour = two.text_input("Screen colour", key=start_with("swatches.colour", "#b0603a"))
        return list(find_near(library(), hex_to_lab(colour), state=state, **wanted))
    target = in_hand().wanted
    return [] if target is None else list(find_near(library(), target.shade, state=state, **wanted))


def _detail(swatch: Swatch) -> None:
    st.subheader(plain(swatch.name))
    shades = library().list(ShadeRecord, swatch_uid=swatch.uid)
    order = in_order({shade.state for shade in shades})
    shades.sort(key=lambda shade: order.index(shade.state))
    show_chips([Chip(state_words(shade.state), shade.shade(), _origin(shade)) for shade in shades])
    left, right = st.columns(2)
    recipe = library().find_one(RecipeRecord, swatch.recipe_uid) if swatch.recipe_uid else None
    with left:
        _made_of(swatch, recipe)
    with right:
        for uid in swatch.photographs[:3]:
            st.image(library().thumbnail_bytes(uid))
    _actions(swatch, shades)
    with st.expander("Change its name, tags or notes"):
        _edit(swatch)
    with st.expander("Add a measured shade"):
        _measured(swatch)
    with st.expander("Earlier versions"):
        _history(swatch)


def _origin(shade: ShadeRecord) -> str:
    kind = str(shade.provenance.get("kind", "")) or "kept"
    return f"{kind} {shade.measured_on:%d.%m.%Y}" if shade.measured_on else kind


def _made_of(swatch: Swatch, recipe: RecipeRecord | None) -> None:
    known = palette()
    rows = [["Made on", f"{swatch.made_on:%d.%m.%Y}" if swatch.made_on else "not noted"]]
    if swatch.cement_uid:
        rows.append(
            ["Cement", known.bases[swatch.cement_uid].label if swatch.cement_uid in known.bases else swatch.cement_uid]
        )
    loads = {} if recipe is None else recipe.loads
    rows += [
        [known.pigments[name].label if name in known.pigments else name, f"{load:.2%}"] for name, load in loads.items()
    ]
    rows += [["Tags", ", ".join(swatch.tags)]] if swatch.tags else []
    show_table([], rows)
    if swatch.notes:
        st.markdown(plain(swatch.notes))


def _actions(swatch: Swatch, shades: list[ShadeRecord]) -> None:
    want, away = st.columns(2)
    dry = next((shade for shade in shades if shade.state == "dry"), shades[0] if shades else None)
    if dry is not None and want.button("Want this shade again", key="swatches.want", width="stretch"):
        give_shade("match", dry.shade(), f"the swatch {swatch.name}")
        turn_to("match")
    if away.button("Put it in the bin", key="swatches.bin", width="stretch"):
        with guard():
            library().delete(swatch)
            st.rerun()


def _edit(swatch: Swatch) -> None:
    with st.form(f"swatch|{swatch.uid}|{swatch.version}", border=False):
        name = st.text_input("Name", swatch.name)
        tags = st.text_input("Tags, separated by commas", ", ".join(swatch.tags))
        notes = st.text_area("Notes", swatch.notes)
        if st.form_submit_button("Keep the change"):
            with guard():
                library().save(replace(swatch, name=new_name(name, swatch.uid), tags=tags_of(tags), notes=notes))
                st.rerun()


def _measured(swatch: Swatch) -> None:
    """A shade measured on the finished piece; with a recipe behind it, the next learning counts it."""
    measured = in_hand().asked.get("match")
    with st.form(f"measured|{swatch.uid}"):
        state = st.selectbox("The piece is", list(STATES), index=list(STATES).index("dry"), format_func=state_words)
        start = measured[0].shade if measured else Shade((60.0, 0.0, 0.0), sd=1.0)
        if measured:
            st.caption("Filled in from the photograph measured last on the page Match.")
        values = [*(float(x) for x in start.lab), max(start.sd, 0.1)]
        columns = st.columns(4)
        lab = [
            column.number_input(
                label, value=round(value, 2), step=0.5, key=f"measured|{swatch.uid}|{label}|{value:.3f}"
            )
            for column, label, value in zip(columns, ("L*", "a*", "b*", "sd"), values, strict=True)
        ]
        if st.form_submit_button("Keep this shade"):
            with guard():
                shade = Shade(lab[:3], sd=lab[3])
                library().save(measured_shade(shade, state=state, swatch_uid=swatch.uid))
                st.rerun()


def _history(swatch: Swatch) -> None:
    versions = library().history(swatch)
    rows = [[str(each.number), moment_words(each.saved_at), each.record.name, ", ".join(each.record.tags)]
            for each in versions if isinstance(each.record, Swatch)]  # fmt: skip
    show_table(["Version", "Kept at (UTC)", "Name", "Tags"], rows, numbers_from=4)
    earlier = [each.number for each in versions[:-1]]
    if not earlier:
        return
    number = st.selectbox("Go back to version", earlier, key=f"swatches.version|{swatch.uid}")
    if st.button("Make it the present one", key="swatches.revert"):
        with guard():
            library().revert(swatch, number)
            st.rerun()


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
