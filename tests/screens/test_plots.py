"""Every chart of the page is valid Vega-Lite: the page itself does not check it at each look."""

from __future__ import annotations

import numpy as np

from colormatch.bench.control import control_chart
from colormatch.bench.drying import follow_drying
from colormatch.screens.drying_chart import drying_chart
from colormatch.screens.over_time import _plot
from colormatch.shade import Shade

DAYS = [float(day) for day in range(10)]
GRAMS = [round(380 + 20 * float(np.exp(-day / 1.5)), 1) for day in DAYS]


def test_the_drying_chart_with_a_weight_left_out_and_without() -> None:
    for grams in (GRAMS, [*GRAMS[:6], GRAMS[6] + 14, *GRAMS[7:]]):
        state = follow_drying(DAYS, grams, scale_step_g=0.1)
        spec = drying_chart(state, DAYS, grams).to_dict(validate=True)
        marks = [layer["mark"]["type"] for layer in spec["layer"]]
        assert ("text" in marks) == bool(state.outliers) == (grams is not GRAMS)


def test_the_chart_over_time() -> None:
    shades = [Shade((50.0 + 0.3 * i, 18, 14)) for i in range(4)]
    spec = _plot(control_chart(shades, shades[0], names=list("abcd")), shades).to_dict(validate=True)
    assert len(spec["layer"]) == 3
