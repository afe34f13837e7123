"""A palette survives being written as JSON, to the last bit."""

import json
import random

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


def test_a_palette_kept_with_three_scattering_knots_is_still_read():
    """As the first format had it: the straight lines between 400, 550 and 700 nm, so that it says what it said."""
    three = [0, 1, 2, 3, 4, 5, 6, 7, 10, 13]
    starter = cm.starter_palette()
    n_bases, n = 8 * len(starter.bases), 14
    keep = [*range(n_bases)]
    keep += [n_bases + n * at + place for at in range(len(starter.pigments)) for place in three]
    keep += range(n_bases + n * len(starter.pigments), starter.layout.size)
    content = palette_to_dict(starter)
    old = starter.covariance[np.ix_(keep, keep)]
    content |= {"format": 1, "mean": (0.1 * np.arange(len(keep)) % 0.7).tolist()}
    content["covariance_lower"] = old[np.tril_indices(len(keep))].tolist()
    back = palette_from_dict(content)
    red = back.mean[back.layout.pigment("red-iron-oxide")]
    was = np.array(content["mean"])[n_bases : n_bases + 10]
    np.testing.assert_allclose(red[:7], was[:7])
    np.testing.assert_allclose(red[7:], np.interp(np.arange(400, 701, 50), [400, 550, 700], was[7:]))
    assert back.predict({"red-iron-oxide": 0.02}, "white-cement").sd > 1


@pytest.mark.parametrize(
    "content", [None, [], {}, {"format": 99}, {"format": 1}, {**palette_to_dict(PALETTE), "mean": [1, 2, 3]}]
)
def test_another_content_is_refused(content):
    with pytest.raises(InputError, match="Learn it again from the tiles"):
        palette_from_dict(content)


@pytest.mark.parametrize("curve", [[1.0] * 30, [-1.0] * 31, [float("nan")] * 31, "flat", 1.0, [[1.0] * 31]])
def test_a_curve_that_is_none_is_refused(curve):
    content = palette_to_dict(PALETTE)
    content["pigments"][0]["k_shape"] = curve
    with pytest.raises(InputError, match="damaged"):
        palette_from_dict(content)


def places(value, path=()):
    """The path of every table, list and value; of a list the first four."""
    yield path
    items = value.items() if isinstance(value, dict) else enumerate(value[:4]) if isinstance(value, list) else ()
    for key, inner in items:
        yield from places(inner, (*path, key))


STRANGE = [
    "abc", "", None, -1, 0, 1e308, float("inf"), float("nan"), True, [], {}, [[]], "1", 10**30, -0.5, [None], {"a": 1},
    [0.0] * 15_000, [0] * 200_000,
]  # fmt: skip


def try_strange(tries, seed):
    """How many kept palettes with one strange value in a random place were refused; the others must work."""
    rng, refused = random.Random(seed), 0
    good = json.dumps(palette_to_dict(PALETTE))
    everywhere = [path for path in places(json.loads(good)) if path]
    for _ in range(tries):
        content = json.loads(good)
        *way, last = rng.choice(everywhere)
        place = content
        for key in way:
            place = place[key]
        place[last] = rng.choice(STRANGE)
        try:
            palette = palette_from_dict(content)
        except InputError:
            refused += 1
            continue
        assert repr(palette)
        palette.predict({next(iter(palette.pigments)): 0.02}, next(iter(palette.bases)))
    return refused


def test_a_strange_value_anywhere_is_refused_or_harmless():
    assert try_strange(60, seed=3) > 30


@pytest.mark.measure
def test_300_strange_palettes(figure):
    import resource

    refused = try_strange(300, seed=4)
    gigabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    told = f"{refused} refused in a sentence, the others of use"
    figure("trust.palettes", "300 kept palettes with a strange value: most memory", gigabytes, "GB", target="<= 1",
           beside=told)  # fmt: skip
    assert gigabytes < 1
