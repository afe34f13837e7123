"""The model's answer to tiles of every kind: its slopes against differences."""

import numpy as np

import colormatch as cm
from colormatch.colorimetry import reflectance_to_lab
from colormatch.learning.observe import answer, readings
from tests.learning.trial import GREY, WHITE

PALETTE = cm.starter_palette().with_sealer("wax")
SPECTRUM = np.linspace(0.2, 0.6, 31)
SHADE = cm.Shade(reflectance_to_lab(SPECTRUM), sd=0.7)
RED = {"red-iron-oxide": 0.02, "titanium-white": 0.01}
TILES = [
    cm.Tile(WHITE, RED, SHADE),
    cm.Tile(GREY, RED, SHADE, state="wet"),
    cm.Tile(GREY, RED, SHADE, spectrum=SPECTRUM),
    cm.Tile(WHITE, {}, SHADE, state="sealed:wax", spectrum=SPECTRUM),
    cm.Tile(GREY, RED, SHADE, state="demould", saturation=0.4),
]


def test_slopes_match_differences_for_every_kind_of_tile():
    seen = readings(PALETTE, TILES)
    rng = np.random.default_rng(0)
    x = PALETTE.mean + 0.1 * rng.standard_normal(PALETTE.mean.size)
    _, slopes = answer(PALETTE, x, seen)
    step = 1e-5
    for at in range(x.size):
        aside = np.zeros_like(x)
        aside[at] = step
        difference = (answer(PALETTE, x + aside, seen)[0] - answer(PALETTE, x - aside, seen)[0]) / (2 * step)
        np.testing.assert_allclose(slopes[:, at], difference, atol=2e-6)


def test_a_partly_dry_tile_lies_where_the_palette_says():
    seen = readings(PALETTE, TILES[4:5])
    values, _ = answer(PALETTE, PALETTE.mean, seen)
    np.testing.assert_allclose(values, PALETTE.predict_drying(RED, GREY, 0.4).lab, atol=1e-9)
