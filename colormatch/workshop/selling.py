"""Selling: what a piece costs, and a card for a customer as a picture or a page."""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from math import pi

from ..errors import InputError
from ..frozen import FrozenMapping
from ..library import (
    Library,
    Piece,
    RecipeRecord,
    ShadeRecord,
    Studio,
    Swatch,
    piece_cost,
)
from ..palette import Palette
from ..saying import seen, shade_name
from ..shade import Shade
from ..states import state_words
from ..studio import MEASURED, when_measured
from .pieces import is_final
from .shelf import LIGHTS, defaults, material_names

PREVIEW = "A drawn preview, not a photograph: screens and prints show shades differently."
# The mean distance of two casts, in sd of one number: sqrt(2) for a difference of two, times the mean length of three
# normal numbers, sqrt(8 / pi); CIEDE2000 takes the middle of the colours about as CIELAB does.
_APART = 2**0.5 * (8 / pi) ** 0.5


@dataclass(frozen=True)
class Card:
    """What a customer is told: shades by state, and lines in plain words. measured: the states that were."""

    title: str
    maker: str
    shades: FrozenMapping[str, Shade]
    measured: tuple[str, ...]
    lines: tuple[str, ...]


def cost_words(library: Library, piece: Piece) -> str:
    """What cement and pigments of one piece cost, by what was weighed, and what has no price; empty: not known."""
    found = piece_cost(library, piece.batch_uid) if piece.batch_uid else None
    if found is None or not found.total:
        return ""
    names = material_names(library)
    without = " and ".join(names.get(each, each) for each in found.without_price)
    return f"{found.per_piece:.2f} {found.currency}".strip() + (f", {without} not counted: no price" if without else "")


def customer_card(library: Library, knowledge: Palette, swatch: Swatch) -> Card:
    """The card of a swatch: its shade dry, wet and sealed, how far pieces differ, the light to judge it in."""
    recipe = library.find_one(RecipeRecord, swatch.recipe_uid) if swatch.recipe_uid else None
    own = [each for each in library.list(ShadeRecord, swatch_uid=swatch.uid)
           if each.provenance.get("kind") == MEASURED and is_final(each)]  # fmt: skip
    own.sort(key=when_measured)
    latest = {each.state: each.shade() for each in own}
    sealed = next((each.state for each in reversed(own) if each.state.startswith("sealed")), "sealed")
    shades = dict[str, Shade]()
    for state in ("dry", "wet", sealed):
        if state in latest:
            shades[state] = latest[state]
        elif recipe is not None and state in ("dry", *knowledge.states):
            shades[state] = knowledge.predict(recipe.loads, recipe.cement_uid, state)
    if "dry" not in shades:
        raise InputError(f"The shade of {swatch.name!r} is not known yet: measure it, or find its recipe.")
    measured, studio = tuple(state for state in shades if state in latest), library.find_one(Studio, "studio")
    light = LIGHTS.get(defaults(library).light, LIGHTS[""])  # of a lamp of hers a customer has none
    lines = (
        " ".join(f"{state_words(state).capitalize()}: {shade_name(shade.lab)}." for state, shade in shades.items()),
        f"Every piece is cast by hand, so two of them differ a little: {seen(_APART * knowledge.cast_sd)} "
        f"(a CIEDE2000 of about {_APART * knowledge.cast_sd:.1f}).",
        f"Judge it in {light}. Wet, it is darker until it has dried again.",
        PREVIEW,
    )
    return Card(swatch.name, studio.name if studio else "", FrozenMapping(shades), measured, lines)


def card_png(card: Card) -> bytes:
    """The card as a picture to send."""
    from ..render.customer import customer_card as drawn

    picture = drawn(title=card.title, maker=card.maker, shades=card.shades, lines=card.lines)
    buffer = io.BytesIO()
    picture.save(buffer, "PNG")
    return buffer.getvalue()


def card_pdf(card: Card) -> bytes:
    """The card as a page (A4) to print."""
    from ..bench.customer_pdf import customer_pdf

    picture = card_png(replace(card, title="", maker="", lines=()))
    return customer_pdf(card.title, card.maker, picture, card.lines)
