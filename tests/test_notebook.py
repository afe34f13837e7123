"""How the nouns show themselves: short in a console, with chips in a notebook."""

from html.parser import HTMLParser

import pytest

import colormatch as cm
from colormatch.notebook import chip_table

PALETTE = cm.starter_palette()
RECIPE = cm.find_recipes(PALETTE, cm.Shade((52, 18, 20)), base="white-cement")[0]

TILES = [
    cm.Tile("white-cement", {"red-iron-oxide": load}, PALETTE.predict({"red-iron-oxide": load}, "white-cement"))
    for load in (0.01, 0.03)
]
REPORT = cm.learn(PALETTE, TILES)[1]


class Chips(HTMLParser):
    """Counts chips and reads their names."""

    def __init__(self, html):
        super().__init__()
        self.names = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        if dict(attrs).get("role") == "img":
            self.names.append(dict(attrs)["aria-label"])


@pytest.mark.parametrize("noun", [PALETTE, RECIPE, RECIPE.target, REPORT], ids=lambda noun: type(noun).__name__)
def test_in_a_console_each_is_short(noun):
    assert repr(noun).startswith(type(noun).__name__ + "(")
    assert len(repr(noun)) < 300


def test_a_palette_shows_a_chip_of_each_pigment():
    names = Chips(PALETTE._repr_html_()).names
    assert [name.partition(",")[0] for name in names] == list(PALETTE.pigments)


def test_a_recipe_shows_what_was_wanted_beside_its_states():
    assert Chips(RECIPE._repr_html_()).names == ["wanted", "dry", *PALETTE.states]


def test_a_report_shows_each_tile_beside_what_was_fitted():
    names = [name.partition(",")[0] for name in Chips(REPORT._repr_html_()).names]
    assert names == [name for one in REPORT.tiles for name in (one.title, "as fitted")]


def test_names_cannot_break_out_of_the_table():
    html = chip_table("<script>", [((50, 0, 0), '"><script>alert(1)</script>')])
    assert "<script" not in html
