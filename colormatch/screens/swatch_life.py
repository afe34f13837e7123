"""One swatch and its life: its shade in each state, its casts and pieces, its recipe, and what one can do with it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from html import escape

import streamlit as st

from colormatch.colorimetry import in_srgb_gamut, lab_to_hex
from colormatch.difference import delta_e_2000
from colormatch.library import Piece, RecipeRecord, ShadeRecord, Swatch
from colormatch.loads import Mix
from colormatch.saying import capital, compared, shade_name
from colormatch.screens.bench_plan import weigh_it
from colormatch.screens.blocks import amounts, card, chip, head, no_chip, picture, small
from colormatch.screens.drawing import WORDS, notation, numbers, plain, state_words
from colormatch.screens.guard import guard, show_notice
from colormatch.screens.measuring import give_shade
from colormatch.screens.pairs import Named, going_with, of_partner, pair, partner_cards
from colormatch.screens.routes import link, turn_to
from colormatch.screens.studios import library, offered, palette
from colormatch.screens.swatch_edit import add_shade, edit
from colormatch.screens.swatch_share import share
from colormatch.screens.tapping import tap_cards
from colormatch.workshop.lives import (
    Cast,
    Seen,
    cast_alone,
    cast_words,
    casts_of,
    different,
    in_other_light,
    recipe_of,
    states_of,
)
from colormatch.workshop.pieces import dry_shade
from colormatch.workshop.plans import casting_of

MOST_PIECES = 3  # of a cast, before the rest is folded away


def show_life(swatch: Swatch) -> None:
    """The whole place of one swatch."""
    recipe = recipe_of(library(), swatch)
    states, casts = states_of(library(), palette(), swatch), casts_of(library(), swatch)
    alone = cast_alone(library(), swatch)
    st.title(plain(swatch.name))
    small(_times(casts, alone, swatch))
    _do(swatch, recipe, states)
    show_notice("swatch")
    left, right = st.columns([5, 4], gap="medium")
    with left:
        _show_states(states)
        _show_casts(casts, alone)
        for uid in swatch.photographs[:3]:
            picture(library().thumbnail_bytes(uid), f"A photograph of {swatch.name}", kind="image/jpeg")
    with right:
        if recipe is not None:
            _made_of(recipe)
            _other_light(recipe)
            _partners(swatch, recipe)
        _numbers(states)
        if swatch.notes:
            st.markdown(plain(swatch.notes))
    edit(swatch)
    add_shade(swatch)
    with st.container(key="swatch-all"):
        link("swatches", "All swatches")


def _times(casts: Sequence[Cast], alone: Sequence[Piece], swatch: Swatch) -> str:
    times = cast_words(len(casts) + len(alone))
    if not (casts or alone):
        return f"{times}{f', kept on {swatch.made_on:%d.%m.%Y}' if swatch.made_on else ''}"
    days = [cast.batch.made_on for cast in casts] + [each.cast_at.astimezone().date() for each in alone if each.cast_at]
    last = max(filter(None, days), default=None)
    return f"{times}{f', last on {last:%d.%m.%Y}' if last else ''}"


def _do(swatch: Swatch, recipe: RecipeRecord | None, states: Sequence[Seen]) -> None:
    """What one can do with it."""
    dry = next((seen for seen in states if seen.state == "dry"), states[0] if states else None)
    with st.container(horizontal=True, key="hand-swatch", gap="xsmall"):
        if recipe is not None and st.button("Cast again", type="primary", key="swatch.cast"):
            with guard():
                weigh_it(casting_of(library(), swatch))
        if dry is not None and st.button("Match it", key="swatch.match"):
            give_shade("match", dry.shade, f"the swatch {swatch.name}")
            turn_to("match")
        if recipe is not None and st.button("Pair it", key="swatch.pair"):
            with guard():
                pair(Named(swatch.name, Mix.of(recipe.cement_uid, recipe.loads)))
                turn_to("two_tones")
        if states:
            with st.popover("Share", width="content"):
                share(swatch)


def _show_states(states: Sequence[Seen]) -> None:
    if not states:
        small("No shade is kept of it yet.")
        return
    parts = []
    for place, seen in enumerate(states):
        says = escape(f"{state_words(seen.state)}: {shade_name(seen.shade.lab)}", quote=True)
        off = "" if bool(in_srgb_gamut(seen.shade.lab)) else ", beyond what a screen can show"
        parts.append(
            f'<div class="{"first" if not place else ""}"><i role="img" aria-label="{says}" '
            f'style="background:{lab_to_hex(seen.shade.lab)}"></i><b>{escape(state_words(seen.state))}</b>'
            f"<span>{escape(seen.words + off)}</span></div>"
        )
    st.html(f'<div class="swatch-states">{"".join(parts)}</div>')


def _show_casts(casts: Sequence[Cast], alone: Sequence[Piece]) -> None:
    """Each cast with its pieces: how far from the first, what was different, and where it is in its life."""
    if not (casts or alone):
        return
    st.header("Its casts")
    first = next((cast for cast in reversed(casts) if cast.dry), None)
    standard = None if first is None else next(iter(first.dry.values())).shade().lab
    for cast in casts:
        batch = cast.batch
        with card(f"cast-{batch.uid}"):
            dry = next(iter(cast.dry.values()), None)
            lab = None if dry is None else dry.shade().lab
            said, far = "", ""
            if lab is not None and standard is not None and cast is not first:
                said = _against(lab, standard)
                far = f"dE00 {float(delta_e_2000(lab, standard)):.1f}"
            elif cast is first and len(casts) > 1:
                said = "The first"
            title = f"{batch.made_on:%d.%m.%Y}, {batch.name}" if batch.made_on else batch.name
            changed = different(library(), first, cast) if first is not None and cast is not first else ""
            head(
                title, ". ".join(filter(None, (said, changed))), aside=far,
                mark=no_chip() if lab is None else chip(lab, shade_name(lab)),
            )  # fmt: skip
            for piece in cast.pieces[:MOST_PIECES]:
                _life_line(piece, cast.dry.get(piece.uid))
            if len(cast.pieces) > MOST_PIECES:
                small(f"and {len(cast.pieces) - MOST_PIECES} more pieces")
            with st.container(horizontal=True, key=f"hand-cast-{batch.uid}"):
                link("bench", "Open on the bench", batch=batch.uid)
                for uid in list(cast.dry)[:1]:
                    link("bench", "Correct the next batch", piece=uid)
    if alone:
        with card("cast-alone"):
            head("Cast without a batch")
            for piece in alone[:MOST_PIECES]:
                _life_line(piece, dry_shade(library(), piece))


def _against(lab: object, standard: object) -> str:
    said = compared(lab, standard)  # type: ignore[arg-type]
    return "As the first" if said == "as wanted" else f"{said[0].upper()}{said[1:]} than the first"


def _life_line(piece: Piece, dry: ShadeRecord | None) -> None:
    """A piece's life as a line of stations, those still to come in grey."""
    stations = [
        ("cast", piece.cast_at), ("demould", piece.demoulded_at),
        ("dry", dry.measured_on if dry else None), ("sealed", piece.sealed_at), ("sold", piece.sold_on),
    ]  # fmt: skip
    spans = "".join(
        f'<span class="{"" if when else "still"}">{escape(word)}{f" {_local(when):%d.%m.}" if when else ""}</span>'
        for word, when in stations
    )
    st.html(f'<div class="swatch-life"><b>{escape(piece.name)}</b><div>{spans}</div></div>')


def _local(when: date) -> date:
    return when.astimezone() if isinstance(when, datetime) else when


def _made_of(recipe: RecipeRecord) -> None:
    known = palette()
    st.header("Recipe")

    def label(name: str) -> str:
        return known.label(name) if name in (*known.bases, *known.pigments) else name

    rows = [(label(recipe.cement_uid), "100 %")]
    rows += [(label(name), f"{100 * load:.2f} % of the cement") for name, load in recipe.loads.items()]
    amounts(rows)


def _other_light(recipe: RecipeRecord) -> None:
    known = palette()
    if recipe.cement_uid not in known.bases or not set(recipe.loads) <= set(known.pigments):
        return
    st.header("In other light")
    rows = []
    for lamp, words, far in in_other_light(known, recipe):
        rows.append((capital(lamp), f"{'the same' if words == 'as wanted' else words} ({far:.1f})"))
    amounts(rows, note="What it turns to from daylight, by itself: not a miss of a match. In brackets dE00.")


def _partners(swatch: Swatch, recipe: RecipeRecord) -> None:
    with guard():
        known = offered()
        if recipe.cement_uid not in known.bases or not set(recipe.loads) <= set(known.pigments):
            small("Not all of it is on your shelf, so nothing is suggested to go with it.")
            return
        first = Named(swatch.name, Mix.of(recipe.cement_uid, recipe.loads))
        found = going_with(first)[:4]
        if not found:
            return
        st.header("Partners")
        tapped = tap_cards("partners", "Partners", partner_cards(found))
        if tapped:
            pair(first, of_partner(found[int(tapped)]))
            turn_to("two_tones")


def _numbers(states: Sequence[Seen]) -> None:
    if not states:
        return
    st.header("Numbers")
    rows = []
    for seen in states:
        sure = f" ± {seen.shade.sd:.1f}" if seen.shade.sd > 0 else ""
        rows.append((state_words(seen.state), f"{numbers(seen.shade.lab)}{sure}"))
    screen = "; ".join(f"{state_words(seen.state).lower()} {lab_to_hex(seen.shade.lab)}" for seen in states)
    note = f"±: {WORDS['±']} On a screen: {screen}"
    dry = next((seen.shade.lab for seen in states if seen.state == "dry"), None)
    if dry is not None and (name := notation(dry)):
        rows.append(("Dry, by name", name))
        note += f". Munsell: {WORDS['Munsell']}"
    with st.container(key="swatch-numbers"):
        amounts(rows, note=note)
