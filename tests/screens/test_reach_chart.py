"""The plot of what jars reach: its cells lie within the rim, its words say where the wanted shade is."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from colormatch import Shade
from colormatch.colorimetry import hex_to_lab
from colormatch.recipes import ReachSlice
from colormatch.screens.reach_chart import _chart, _inside, _words

OUTLINE = np.array([[0.0, 0.0], [30.0, 5.0], [25.0, 35.0], [2.0, 20.0]])
SLICE = ReachSlice(50.0, OUTLINE)


def test_every_cell_is_within_the_rim_and_in_its_own_colour() -> None:
    spec = _chart(SLICE, Shade((50, 10, 10))).to_dict()
    cells = spec["datasets"][spec["layer"][0]["data"]["name"]]
    assert len(cells) > 100
    for cell in cells[::17]:
        middle = ((cell["a"] + cell["to_a"]) / 2, (cell["b*"] + cell["to_b"]) / 2)
        assert _inside(OUTLINE, middle)
        np.testing.assert_allclose(hex_to_lab(cell["colour"]), (50, *middle), atol=1.0)


@pytest.mark.parametrize("turned", [OUTLINE, OUTLINE[::-1]])
def test_inside_whichever_way_the_rim_goes_round(turned: Any) -> None:
    assert _inside(turned, (12.0, 15.0))
    assert not _inside(turned, (-3.0, 15.0))


def test_a_shade_far_out_is_on_the_plot_and_said_to_be_outside() -> None:
    spec = _chart(SLICE, Shade((50, 60, -20))).to_dict()
    low, high = spec["layer"][0]["encoding"]["x"]["scale"]["domain"]
    assert low < 60 < high
    assert "lies outside" in _words(SLICE, Shade((50, 60, -20)))
    assert "lies inside" in _words(SLICE, Shade((50, 12, 15)))
