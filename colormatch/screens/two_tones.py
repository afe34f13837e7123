"""Two tones: how two mixes look in one piece, wet and dry, and whether they still read as two."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

import streamlit as st

from colormatch.bench.batch import Tone
from colormatch.design import LibraryShade, Partner, contrast, partners
from colormatch.library import RecipeRecord
from colormatch.loads import Mix
from colormatch.palette import Palette
from colormatch.render import piece_picture
from colormatch.render.forms import FORMS
from colormatch.render.solid import PATTERNS
from colormatch.screens.drawing import Chip, in_order, numbers, plain, show_chips, show_table, state_words
from colormatch.screens.guard import guard
from colormatch.screens.keeping import keep_design, named
from colormatch.screens.routes import turn_to
from colormatch.screens.state import Casting, in_hand, start_with, take_to_batch
from colormatch.screens.studios import library, palette
from colormatch.screens.work import Work

Named = tuple[str, str, Mapping[str, float]]  # name, base, loads
READS = {"one": "as one", "faint": "faintly as two", "two": "as two"}


def page() -> None:
    st.title("Two tones")
    known = palette()
    mixes = _mixes(known)
    first, second, share = _tones(mixes)
    pattern, form, seed = _piece()
    one, two = (Tone(name, Mix.of(base, loads)) for name, base, loads in (first, second))
    tones = (replace(one, share=1 - share), replace(two, share=share))
    _picture(known, tones, form, pattern, seed)
    _contrast(known, tones)
    _partners(known, first)
    _onward(tones, {"pattern": pattern, "form": form})


def _mixes(known: Palette) -> dict[str, Named]:
    """Every mix that can be a tone: recipes in hand, partners suggested, recipes of the library, bare cement."""
    mixes: dict[str, Named] = {}
    hand = in_hand()
    if hand.casting is not None:
        tone = hand.casting.tones[0]
        mixes["taken"] = (f"Taken from the recipes: {tone.name}", tone.mix.base, tone.mix.loads)
    for place, recipe in enumerate(hand.found.recipes if hand.found else (), start=1):
        mixes[f"found {place}"] = (f"Recipe {place} found last", recipe.base, recipe.loads)
    for place, partner in enumerate(hand.partners, start=1):
        mixes[f"partner {place}"] = (f"Partner {place}: {partner.name}", partner.base, partner.loads)
    for record in library().list(RecipeRecord):
        if record.cement_uid in known.bases and set(record.loads) <= set(known.pigments):
            mixes[record.uid] = (record.name, record.cement_uid, record.loads)
    for name, base in known.bases.items():
        mixes[f"bare {name}"] = (f"{base.label}, no pigment", name, {})
    return mixes


def _tones(mixes: dict[str, Named]) -> tuple[Named, Named, float]:
    one, two, three = st.columns(3)
    names = list(mixes)
    bare = next((name for name in names[1:] if name.startswith("bare ")), names[0])  # never the first tone again
    start = {"tones.first": names[0], "tones.second": bare}
    for key, name in start.items():
        if st.session_state.get(start_with(key, name)) not in names:
            st.session_state[start_with(key, name)] = name
    first = one.selectbox(
        "First tone", names, format_func=lambda name: mixes[name][0], key=start_with("tones.first", names[0])
    )
    second = two.selectbox(
        "Second tone", names, format_func=lambda name: mixes[name][0], key=start_with("tones.second", bare)
    )
    share = three.slider("Share of the second tone, % of the volume", 5, 95, step=5, key=start_with("tones.share", 40))
    return mixes[first], mixes[second], share / 100


def _piece() -> tuple[Any, Any, int]:
    one, two, three = st.columns(3)
    pattern = one.selectbox("Pattern", PATTERNS, key=start_with("tones.pattern", "layered"))
    form = two.selectbox("Form", FORMS, key=start_with("tones.form", "cup"))
    seed = three.number_input("Another pouring", 1, 999, key=start_with("tones.seed", 1))
    return pattern, form, int(seed)


def _picture(known: Palette, tones: tuple[Tone, Tone], form: str, pattern: str, seed: int) -> None:
    states = [state for state in in_order(["dry", *known.states]) if state != "wet"]
    shades = [{state: known.predict(tone.mix.loads, tone.mix.base, state) for state in states} for tone in tones]
    with st.spinner("Drawing"):
        for column, state in zip(st.columns(len(states)), states, strict=True):
            picture = piece_picture(
                form, pattern, shades[0][state].lab, shades[1][state].lab,
                state=state, share_two=tones[1].share, seed=seed, size=340,
            )  # fmt: skip
            column.image(picture, caption=state_words(state))
    st.caption("Drawn from the predicted shades; a real pour will differ in its lines.")
    rows = [
        [state_words(state), *(f"{numbers(each[state].lab)} ± {each[state].sd:.1f}" for each in shades)]
        for state in states
    ]
    show_table(["Predicted", *(tone.name for tone in tones)], rows, numbers_from=3)


def _contrast(known: Palette, tones: tuple[Tone, Tone]) -> None:
    found = contrast(known, tones[0].mix, tones[1].mix)
    rows = [
        [state_words(state), READS[each.reads], f"{each.delta_e:.1f}", f"{each.low:.1f} to {each.high:.1f}",
         f"{each.delta_lightness:+.1f}"]
        for state in in_order(found.states) for each in [found.states[state]]
    ]  # fmt: skip
    show_table(["The two read", "", "dE00", "nine times in ten", "L* second less first"], rows, numbers_from=2)
    for warning in found.warnings:
        st.warning(plain(warning))


def _partners(known: Palette, first: Named) -> None:
    st.subheader("What goes with the first tone")
    shared = _shared(known, first)
    if st.button("Suggest partners", key="tones.suggest"):
        with guard(), st.spinner("Looking through the library and what these pigments reach"):
            kept = [
                LibraryShade(name, known.predict(loads, base), base, loads)
                for key, (name, base, loads) in _mixes(known).items()
                if loads and not key.startswith(("taken", "found", "partner"))
            ]
            suggested = partners(known, dict(first[2]), base=first[1], library=kept, count=20 if shared else 2)
            in_hand().partners = _with_shared(suggested, shared)
            if not in_hand().partners:
                holds = f" and holds {known.label(shared)} too" if shared else ""
                st.info(plain(f"Nothing was found that reads as two with it{holds}."))
            else:
                st.rerun()
    found = in_hand().partners
    if found:
        show_chips(
            [Chip(f"{place}: {each.relation}", each.shade, f"{each.name}, dE00 {each.delta_e:.1f}")
             for place, each in enumerate(found, start=1)],
            height_px=70,
        )  # fmt: skip
        st.caption("Choose one above as the second tone: Partner 1, Partner 2 and so on.")


def _shared(known: Palette, first: Named) -> str:
    """A pigment that both tones are to hold, and a way to find the second tone around its dose; "" for none."""
    if not first[2]:
        return ""
    one, two = st.columns(2, vertical_alignment="bottom")
    key = start_with("tones.shared", "")
    if st.session_state[key] not in ("", *first[2]):
        st.session_state[key] = ""
    shared = one.selectbox(
        "Pigment in both tones",
        ["", *first[2]],
        format_func=lambda name: f"{known.label(name)}, {first[2][name]:.2%}" if name else "as it comes",
        key=key,
    )
    if shared and two.button("Find the second tone with that dose in it", key="tones.around", width="stretch"):
        Work("match").put(fixed={shared: first[2][shared]}, base=first[1])
        turn_to("match")
    return str(shared)


def _with_shared(found: Iterable[Partner], shared: str) -> list[Partner]:
    """Of the partners that hold the shared pigment, the first two of each relation and origin."""
    kept: dict[tuple[str, str], list[Partner]] = {}
    for each in found:
        if not shared or shared in each.shared:
            kept.setdefault((each.relation, each.origin), []).append(each)
    return [each for group in kept.values() for each in group[:2]]


def _onward(tones: tuple[Tone, Tone], content: Mapping[str, str]) -> None:
    name = st.text_input("Name of the design", key=start_with("tones.name", ""))
    keep, batch = st.columns(2)
    if keep.button("Keep the design", key="tones.keep", width="stretch"):
        with guard():
            st.success(f"Kept: {plain(keep_design(named(name), tones, content).name)}.")
    if batch.button("Take both tones to the batch", key="tones.batch", type="primary", width="stretch"):
        take_to_batch(Casting(name.strip() or "Unnamed design", tones))
        turn_to("batch")


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
