"""A palette survives being written as JSON, to the last bit."""

import json

import numpy as np
import pytest

import colormatch as cm
from colormatch.errors import InputError
from colormatch.palette_file import palette_from_dict, palette_to_dict

PALETTE = cm.starter_palette().with_pigment("jar-7", price_per_kg=3.5).with_sealer("beeswax")


def test_it_comes_back_the_same():
    back = palette_from_dict(json.loads(json.dumps(palette_to_dict(PALETTE))))
    np.testing.assert_array_equal(back.mean, PALETTE.mean)
    np.testing.assert_allclose(back.covariance, PALETTE.covariance, rtol=0, atol=1e-18)
    assert (back.states, back.cast_sd, back.tiles_learned) == (PALETTE.states, 0.8, 0)
    assert back.pigments["jar-7"].price_per_kg == 3.5
    loads = {"jar-7": 0.01, "red-iron-oxide": 0.02}
    for state in ("dry", "sealed:beeswax"):
        there, here = (p.predict(loads, "grey-cement", state) for p in (back, PALETTE))
        np.testing.assert_array_equal(there.lab, here.lab)


@pytest.mark.parametrize(
    "content", [None, [], {}, {"format": 99}, {"format": 1}, {**palette_to_dict(PALETTE), "mean": [1, 2, 3]}]
)
def test_another_content_is_refused(content):
    with pytest.raises(InputError):
        palette_from_dict(content)


@pytest.mark.parametrize("curve", [[1.0] * 30, [-1.0] * 31, [float("nan")] * 31, "flat", 1.0, [[1.0] * 31]])
def test_a_curve_that_is_none_is_refused(curve):
    content = palette_to_dict(PALETTE)
    content["pigments"][0]["k_shape"] = curve
    with pytest.raises(InputError, match="damaged"):
        palette_from_dict(content)
