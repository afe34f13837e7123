"""Two tones: the kept designs as drawn pieces, and the piece at hand, large, with what goes together to tap."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from html import escape
from typing import Any

import streamlit as st

from colormatch.arrays import FloatArray
from colormatch.bench.batch import Tone
from colormatch.colorimetry import lab_to_hex
from colormatch.design import Contrast, contrast
from colormatch.library import DesignRecord, NotInLibrary
from colormatch.render.forms import FORMS
from colormatch.render.solid import PATTERNS
from colormatch.saying import shade_name
from colormatch.science import is_here, two_to_every_eye, warm
from colormatch.screens.bench_plan import weigh_it
from colormatch.screens.blocks import answer, picture, small
from colormatch.screens.drawing import plain, show_table, state_words
from colormatch.screens.guard import guard, say_then_draw, show_notice
from colormatch.screens.pairs import (
    Named,
    as_url,
    drawn,
    going_with,
    named,
    of_partner,
    partner_cards,
    tones_to_choose,
)
from colormatch.screens.routes import asked, link, turn_to
from colormatch.screens.studios import library, offered, palette
from colormatch.screens.tapping import Card, tap_cards
from colormatch.screens.work import Work
from colormatch.states import in_order
from colormatch.workshop.keeping import design_of, keep_design, recipe_of, tones_of
from colormatch.workshop.plans import Casting
from colormatch.workshop.shelf import shelf

LARGE, SMALL, IN_GRID = 520, 240, 240  # pixels
_READS = {"one": "as one", "faint": "faintly as two", "two": "as two"}


def page() -> None:
    uid = asked("design")
    kept = _kept(uid) if uid else None
    st.title(plain(kept.name) if kept else "Two tones")
    if kept and len(tones_of(library(), kept)) != 2:
        _not_of_two(kept)
        return
    work = Work("design", kept.uid if kept else "", title=kept.name if kept else "A new design")
    work.say()
    show_notice("two_tones")
    if kept and not work.content:
        work.put(**_opened(kept))
    first, second = named(work.get("first")), named(work.get("second"))
    if first is not None and second is not None:
        _piece(work, first, second, kept)
    elif first is not None:
        _choose_second(work, first)
    if kept:
        with st.container(key="tones-all"):
            link("two_tones", "All designs")
        return
    _kept_designs()
    if first is None:
        _choose_first(work)
    warm()


def _kept(uid: str) -> DesignRecord | None:
    try:
        return library().get(DesignRecord, uid)
    except NotInLibrary:
        st.info("There is no design at this address any more: it is in the bin, or in the other library.")
        return None


def _not_of_two(kept: DesignRecord) -> None:
    """A design that came from elsewhere, or one whose recipes are gone."""
    count = len(tones_of(library(), kept))
    answer(
        f"{kept.name} is of {count} tone{'' if count == 1 else 's'}.",
        "Designs of two are drawn here. It can be cast." if count else "Its recipes may be in the bin.",
    )
    if count and st.button("Cast it", type="primary", width="stretch", key="tones.cast"):
        turn_to("bench", cast=kept.uid)
    link("two_tones", "All designs")


def _opened(kept: DesignRecord) -> dict[str, Any]:
    """A kept design as work in hand."""
    one, two = tones_of(library(), kept)
    opened = {"first": Named(one.name, one.mix).plain(), "second": Named(two.name, two.mix).plain()}
    return {
        **opened, "share": round(100 * two.share), "pattern": kept.content.get("pattern", "layered"),
        "form": kept.content.get("form", "cup"), "seed": kept.content.get("seed", 1),
    }  # fmt: skip


def _choose_first(work: Work) -> None:
    if not offered_tones():
        answer("Nothing is on your shelf yet.", "Two tones are two recipes in one piece, or one beside bare cement.")
        if st.button("Fill the shelf", type="primary", width="stretch", key="tones.shelf"):
            turn_to("studio")
        return
    st.header("A new piece: which shade is the first tone?")
    _tones(work, "first")


def _choose_second(work: Work, first: Named) -> None:
    answer(f"What goes with {first.name}?")
    _partners(work, first)
    with st.expander("Or any other of yours"):
        _tones(work, "second")
    if st.button("Another first tone", type="tertiary"):
        work.put(first=None)
        st.rerun()


def offered_tones() -> dict[str, Named]:
    """What can be a tone; nothing without a cement on the shelf."""
    return tones_to_choose(offered()) if shelf(library()).cements else {}


def _tones(work: Work, *which: str) -> None:
    """What can be the first tone, the second, or each of them, to tap."""
    known, tones = offered(), offered_tones()
    cards = []
    for key, each in tones.items():
        lab = known.predict(each.mix.loads, each.mix.base).lab
        cards.append(Card(key, each.name, colours=(lab_to_hex(lab),), alt=shade_name(lab)))

    def taken_for(tone: str) -> Callable[[str], None]:
        return lambda key: work.put(**{tone: tones[key].plain()})

    for tone in which:
        if len(which) > 1:
            st.subheader(f"{tone.capitalize()} tone")
        tap_cards(f"tones-{tone}", f"The {tone} tone", cards, on_tap=taken_for(tone))


def _partners(work: Work, first: Named, second: Named | None = None) -> None:
    """What goes with the first tone, to tap."""
    held = {"": "any jars", **{name: f"{palette().label(name)} in both" for name in first.mix.loads}}
    if len(held) > 1:
        st.selectbox("The second tone from", list(held), format_func=held.__getitem__,
                     **work.field("shared", "", among=held))  # fmt: skip
    shared = work.get("shared", "") if work.get("shared", "") in held else ""
    if shared and st.button("Match a second tone with that dose in it", type="tertiary", key="tones.around"):
        Work("match").put(fixed={shared: first.mix.loads[shared]}, base=first.mix.base)
        turn_to("match")
    found = going_with(first, shared)
    if not found:
        small("Nothing was found that reads as two with it.")
        return
    same = [str(i) for i, each in enumerate(found) if second is not None and of_partner(each).mix == second.mix]
    tap_cards(
        "partners", "What goes with it", partner_cards(found), chosen=same[0] if same else "",
        on_tap=lambda key: work.put(second=of_partner(found[int(key)]).plain()), reveal="piece-drawn",
    )  # fmt: skip


def _piece(work: Work, first: Named, second: Named, kept: DesignRecord | None) -> None:
    """The piece at hand: drawn large, how it reads, what to change, and what to do with it."""
    known = palette()
    share = int(work.get("share", 40)) / 100
    tones = (Tone(first.name, first.mix, 1 - share), Tone(second.name, second.mix, share))
    shape = {"form": work.get("form") or "cup", "pattern": work.get("pattern") or "layered"}
    seed = int(work.get("seed", 1))
    left, right = st.columns(2, gap="medium")
    with left, st.container(key="piece-drawn"):
        says = f"A {shape['form']}, {shape['pattern']}: {first.name} and {second.name}, dry"
        picture(drawn(known, tones, **shape, seed=seed, size=LARGE), says, kind="image/jpeg", width_px=LARGE)
        states = [state for state in in_order(known.states) if state != "wet"]
        pictures = [
            (state_words(state), drawn(known, tones, **shape, state=state, seed=seed, size=SMALL)) for state in states
        ]
        _side_by_side(pictures)
        small("Drawn from the predicted shades; a real pour differs in its lines.")
    with right:
        labs = [known.predict(tone.mix.loads, tone.mix.base).lab for tone in tones]
        _reading(contrast(known, first.mix, second.mix), tones, labs)
        with st.container(key="tones-shape"):
            _shape(work)
        _do(work, tones, {**shape, "seed": seed}, kept)
    st.header(plain(f"What goes with {first.name}"))
    _partners(work, first, second)
    with st.expander("Other tones of yours"):
        _tones(work, "first", "second")


def _side_by_side(pictures: Sequence[tuple[str, bytes]]) -> None:
    """The piece in its other states, each with its word."""
    shown = "".join(f'<figure><img alt="" src="{as_url(image)}"><figcaption>{escape(word)}</figcaption></figure>'
                    for word, image in pictures)  # fmt: skip
    st.html(f'<div class="tones-states">{shown}</div>')


def _reading(found: Contrast, tones: Sequence[Tone], labs: Sequence[FloatArray]) -> None:
    """Whether the two tones read as two, in words; the numbers in a fold."""
    dry = found.states["dry"]
    also = [state_words(s).lower() for s, each in found.states.items() if s != "dry" and each.reads == dry.reads]
    answer(
        f"{tones[0].name} and {tones[1].name} read {_READS[dry.reads]} when dry.",
        f"The same: {'; '.join(also)}." if also else "",
        numbers=f"dE00 {dry.delta_e:.1f} between them, likely {dry.low:.1f} to {dry.high:.1f}",
    )
    for warning in found.warnings:
        st.warning(plain(warning))
    if is_here():  # no page waits for it
        small(two_to_every_eye(*labs))
    with st.expander("In each state"):
        rows = [
            [state_words(state), _READS[each.reads], f"{each.delta_e:.1f}", f"{each.low:.1f} to {each.high:.1f}",
             f"{each.delta_lightness:+.1f}"]
            for state in in_order(found.states) for each in [found.states[state]]
        ]  # fmt: skip
        show_table(["The two read", "", "dE00", "likely range", "lightness difference"], rows, numbers_from=2)


def _shape(work: Work) -> None:
    st.pills("Pattern", PATTERNS, **work.field("pattern", "layered", among=PATTERNS))
    st.pills("Form", FORMS, **work.field("form", "cup", among=FORMS))
    st.slider("Second tone, % of the volume", 5, 95, step=5, **work.field("share", 40))
    if st.button("Show another pour", type="tertiary"):
        work.put(seed=int(work.get("seed", 1)) % 999 + 1)
        st.rerun()


def _do(work: Work, tones: tuple[Tone, Tone], content: dict[str, Any], kept: DesignRecord | None) -> None:
    with st.container(horizontal=True, key="hand-design"):
        weigh = st.button("Weigh both", type="primary", width="stretch", key="tones.batch")
        with st.popover("Keep", width="content"):
            suggested = kept.name if kept else f"{tones[0].name} and {tones[1].name}"
            name = st.text_input("Name of the design", **work.field("name", suggested))
            keep = st.button("Keep the design", type="primary", key="tones.keep")
    if keep:
        with guard():
            design = _save(name, tones, content, kept)
            work.drop()
            say_then_draw("two_tones", f"Kept: {design.name}.")
    if weigh:
        with guard():
            title = kept.name if kept else str(work.get("name") or f"{tones[0].name} and {tones[1].name}")
            as_kept = kept is not None and [each.mix for each in tones_of(library(), kept)] == [t.mix for t in tones]
            # With another tone than was kept it is another design: that one's recipes are not what is weighed.
            uid = kept.uid if kept and as_kept else None
            weigh_it(Casting(title, tones, design_uid=uid), None if kept else work)
    if not kept and st.button("Begin another", type="tertiary"):
        work.drop()
        st.rerun()


def _save(name: str, tones: tuple[Tone, Tone], content: dict[str, Any], kept: DesignRecord | None) -> DesignRecord:
    """Keep a new design, or one that is kept as it is now; under another name it is another design."""
    if kept is None or name.strip() != kept.name:
        return keep_design(library(), palette(), name, tones, content)
    recipes = [recipe_of(f"{kept.name}: {tone.name}", tone.mix) for tone in tones]
    fresh = design_of(kept.name, recipes, tones, content, kept.mould_uid)
    library().save_all([*recipes, replace(kept, recipes=fresh.recipes, content=fresh.content)])
    return kept


def _kept_designs() -> None:
    """Every kept design as a drawn piece, to tap and open again."""
    known = palette()
    cards = []
    for each in library().list(DesignRecord):
        with guard():
            tones = tones_of(library(), each)
            if len(tones) != 2:
                continue
            form, pattern = str(each.content.get("form", "cup")), str(each.content.get("pattern", "layered"))
            image = drawn(known, tones, form=form, pattern=pattern, seed=int(each.content.get("seed", 1)), size=IN_GRID)
            cards.append(
                Card(each.uid, each.name, (f"{pattern} {form}",), picture=as_url(image), alt=f"{pattern} {form}")
            )
    if not cards:
        return
    st.header("Kept designs")
    opened = tap_cards("designs", "Kept designs", cards, layout="pictures")
    if opened:
        turn_to("two_tones", design=opened)


if __name__ == "__main__":  # as Streamlit runs a page
    with guard():
        page()
