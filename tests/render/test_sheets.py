"""Cards and chips: legible, exact in their flat colours, and true to the numbers they show."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageFont

from colormatch import Shade, lettering
from colormatch.errors import ColormatchError, InputError
from colormatch.render import recipe_card
from colormatch.render.canvas import FAINT, INK, PAPER, SURROUND
from colormatch.render.cards import gram_words
from colormatch.render.piece import bytes_of
from colormatch.render.text import clean, font, shorten, wrap

CLAY = Shade((52, 18, 20), sd=1.2)
CARD = {
    "title": "Clay",
    "target": CLAY,
    "predicted": {"dry": CLAY},
    "cement": ("White cement", 260.0),
    "pigments": [("Red iron oxide", 5.2, 0.02)],
}


def has_colour(picture, lab, least=400):
    return (np.asarray(picture) == bytes_of(lab)).all(axis=2).sum() >= least


@pytest.mark.published
@pytest.mark.parametrize(("ink", "ground"), [(INK, SURROUND), (FAINT, SURROUND), (INK, PAPER), (FAINT, PAPER)])
def test_letters_stand_out(ink, ground):
    """WCAG 2.2, success criterion 1.4.3: at least 4.5 : 1, relative luminance as defined there."""

    def luminance(colour):
        c = np.array(colour) / 255
        return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4) @ [0.2126, 0.7152, 0.0722]

    assert (luminance(ground) + 0.05) / (luminance(ink) + 0.05) >= 4.5


@settings(max_examples=150)
@given(st.text(max_size=120), st.integers(20, 300))
def test_any_name_fits_in_its_place(name, width):
    face = font(14)
    assert face.getlength(shorten(name, width, face)) <= width
    lines = wrap(name, width, face, 3)
    assert len(lines) <= 3
    assert all(face.getlength(line) <= width for line in lines)
    assert not any(ord(c) < 32 or 0x202A <= ord(c) <= 0x202E for c in clean(name))


def test_wrapping_loses_no_word_when_there_is_room():
    text = "wear gloves and a mask while you weigh the pigment and rinse skin at once"
    assert " ".join(wrap(text, 150, font(12), 20)) == text


def test_letters_are_there_without_the_other_package(monkeypatch):
    monkeypatch.setattr("colormatch.lettering.find_spec", lambda name: None)
    monkeypatch.setattr("colormatch.lettering._on_this_machine", dict)
    lettering._files.cache_clear()
    try:
        assert isinstance(font(14), ImageFont.FreeTypeFont)
        assert recipe_card(**CARD).width == 1000
    finally:
        lettering._files.cache_clear()


@settings(max_examples=30)
@given(st.text(max_size=60))
def test_a_card_takes_any_name(name):
    card = recipe_card(**{**CARD, "title": name, "pigments": [(name, 5.2, 0.02)], "notes": [name]})
    assert card.width == 1000


def test_flat_colours_are_exact():
    shades = {"dry": CLAY, "demould": Shade((38, 15, 16)), "sealed": Shade((55, 85, 70))}  # the last no screen shows
    card = recipe_card(**{**CARD, "predicted": shades, "target": Shade((60, 10, 12))})
    for shade in shades.values():
        assert has_colour(card, shade.lab)
    assert has_colour(card, (60, 10, 12))


def test_the_cards_height_grows_with_what_it_says():
    heights = [recipe_card(**CARD, notes=["Mind the draught. " * n] if n else []).height for n in (0, 1, 20)]
    assert heights[0] < heights[1] < heights[2]
    assert recipe_card(**CARD, photo=Image.new("RGBA", (50, 400))).size == (1000, heights[0])


@pytest.mark.parametrize(("grams", "words"), [(260.0, "260.0"), (5.2, "5.2"), (0.25, "0.25"), (1.004, "1.004")])
def test_grams_as_the_scale_shows_them(grams, words):
    assert gram_words(grams) == words


@pytest.mark.parametrize(
    "draw",
    [
        lambda: recipe_card(**CARD, width=300),
        lambda: recipe_card(**{**CARD, "predicted": {}}),
    ],
)
def test_nonsense_is_refused(draw):
    with pytest.raises(
        InputError,
        match=r"it must be 900 to 1600 pixels|one to four predicted shades",
    ) as raised:
        draw()
    assert isinstance(raised.value, ColormatchError)
    assert len(str(raised.value)) > 20
