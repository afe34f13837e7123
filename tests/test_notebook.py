"""How the nouns show themselves: short in a console, with chips in a notebook."""

from html.parser import HTMLParser

import pytest

import colormatch as cm
from colormatch.notebook import chip_table

PALETTE = cm.starter_palette()
RECIPE = cm.find_recipes(PALETTE, cm.Shade((52, 18, 20)), base="white-cement")[0]


class Chips(HTMLParser):
    """Counts chips and reads their names."""

    def __init__(self, html):
        super().__init__()
        self.names = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        if dict(attrs).get("role") == "img":
            self.names.append(dict(attrs)["aria-label"])


@pytest.mark.parametrize("noun", [PALETTE, RECIPE, RECIPE.target], ids=lambda noun: type(noun).__name__)
def test_in_a_console_each_is_short(noun):
    assert repr(noun).startswith(type(noun).__name__ + "(")
    assert len(repr(noun)) < 300


def test_a_palette_shows_a_chip_of_each_pigment():
    names = Chips(PALETTE._repr_html_()).names
    assert [name.partition(",")[0] for name in names] == list(PALETTE.pigments)


def test_a_recipe_shows_what_was_wanted_beside_its_states():
    assert Chips(RECIPE._repr_html_()).names == ["wanted", "dry", *PALETTE.states]


def test_names_cannot_break_out_of_the_table():
    html = chip_table("<script>", [((50, 0, 0), '"><script>alert(1)</script>')])
    assert "<script" not in html
