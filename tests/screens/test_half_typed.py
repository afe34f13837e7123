"""What is half-typed in any form is work in hand: a new session of the page finds it as it was left."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, time
from typing import Any

import pytest

from colormatch.basis import BASES
from colormatch.library import BatchRecord, Piece, Swatch
from colormatch.workshop.keeping import keep_mix
from colormatch.workshop.pieces import demould
from colormatch.workshop.tile_list import advised
from tests.screens.driven import poured, press


@pytest.fixture
def studio(own_library: Any, rust: BatchRecord) -> Any:
    """A piece out of its mould, a swatch, a list of tiles: something for every form to be about."""
    from colormatch.studio import studio_palette
    from colormatch.weighed import mix_of

    piece = demould(own_library, poured(own_library, rust)[0])
    known = studio_palette(own_library)
    keep_mix(own_library, known, mix_of(own_library, piece).mix, name="Rust")
    advised(own_library, known, count=2, cement_g=100)
    return own_library


FORMS = {
    "a shade typed at Match": ("match", {}, {"L*": "61,5", "Six hexadecimal digits": "#aa5533"}),
    "a shade typed of a piece": ("bench", {"piece": Piece, "view": "Dry"}, {"L*": "61,5", "b*": "7"}),
    "a measured shade of a swatch": ("swatches", {"swatch": Swatch}, {"L*": "44", "The piece is": "sealed"}),
    "when a piece was weighed": (
        "bench", {"piece": Piece, "view": "Drying"},
        {"The scale shows, g": "403", "Weighed on": date(2026, 3, 4), "at": time(7, 30)},
    ),
    "what was noted of a casting": ("bench", {"piece": Piece}, {"Weather": "damp", "Room, °C": "17"}),
    "how much to cast": ("bench", {"cast": Swatch}, {"Pieces": "3", "Waste, %": "4"}),
    "a defect": ("over_time", {"part": "Defects"}, {"Pieces with it": "2", "Notes": "at the rim"}),
    "a recipe from elsewhere": ("swatches", {}, {"Its name": "From a book", "Its amounts are": BASES[1]}),
    "a tile weighed otherwise": ("tiles", {}, {"Tile": 1}),
    "a new list of tiles": ("tiles", {}, {"Tiles": "7", "Dry cement of one tile, g": "80"}),
    "a tile of her own": ("tiles", {}, {"Jars in it": ["ochre"]}),
    "one tile measured": ("tiles", {"view": "Measure", "which": "One tile"}, {"Cast on": date(2026, 3, 4)}),
}  # fmt: skip


def field(page: Any, label: str) -> Any:
    kinds = (page.text_input, page.selectbox, page.multiselect, page.date_input, page.time_input)
    return next(each for kind in kinds for each in kind if each.label == label)


def test_what_is_left_in_a_field_being_emptied_is_put_back(open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page("start", library="own", address={"step": "jars"})
    page = field(page, "Name on the lid").set_value("Brick red").run()
    page = press(page, "Keep the jar")
    assert field(page, "Name on the lid").proto.set_value  # emptied for the next one
    page = field(page, "Name on the lid").set_value("Ochre").run()  # typed before that came to the browser
    assert field(page, "Name on the lid").proto.set_value
    assert field(page, "Name on the lid").proto.value == "Ochre"
    assert not field(page.run(), "Name on the lid").proto.set_value


@pytest.mark.slow
@pytest.mark.parametrize("form", FORMS)
def test_a_half_typed_form_is_there_after_a_reload(open_page: Callable[..., Any], studio: Any, form: str) -> None:
    place, about, typed = FORMS[form]
    address = {name: each if isinstance(each, str) else studio.list(each)[0].uid for name, each in about.items()}
    page = open_page(place, library="own", address=address)
    for label, value in typed.items():
        assert field(page, label).value != value
        page = field(page, label).set_value(value).run()
        assert not page.exception
    anew = open_page(place, library="own", address=address)  # a session that knows nothing of the one before
    assert {label: field(anew, label).value for label in typed} == typed
    anew.run()  # what another field or another device makes the page do must not wipe what is being typed
    assert [each.label for each in anew.text_input if each.proto.set_value and each.label in typed] == []
