"""Advice on the next tile: it must lower the uncertainty about what is wanted, by what it says."""

from itertools import pairwise

import numpy as np
import pytest

import colormatch as cm
from colormatch.advice import next_tiles, starter_plan
from colormatch.difference import expected_delta_e
from colormatch.errors import ColormatchError, InputError, UnknownNameError
from colormatch.learning import random_recipes
from colormatch.workshop.shelf import only
from tests.learning.trial import PHOTO_SD, WHITE

PALETTE = cm.starter_palette()
ORANGE = PALETTE.predict({"red-iron-oxide": 0.005, "yellow-iron-oxide": 0.02}, WHITE)


def test_each_tile_lowers_the_expected_error():
    advice = next_tiles(PALETTE, [ORANGE], 4)
    assert len(advice) == 4
    assert all(one.after < one.before for one in advice)
    for earlier, later in pairwise(advice):
        assert later.before == pytest.approx(earlier.after)
    assert all(f"{one.after:.1f} dE00 after" in one.why for one in advice)


def test_a_tile_advised_twice_says_why():
    shade = PALETTE.predict({"red-iron-oxide": 0.02}, WHITE)
    advice = next_tiles(PALETTE, [shade], 8, pigments=["red-iron-oxide"])
    twice = [one.loads in [other.loads for other in advice[:place]] for place, one in enumerate(advice)]
    assert any(twice)
    assert [one.reason.startswith("The same tile once more") for one in advice] == twice


def test_it_asks_for_what_the_shade_is_made_of():
    advised = {name for one in next_tiles(PALETTE, [ORANGE], 3) for name in one.loads}
    assert "yellow-iron-oxide" in advised
    assert not advised & {"ultramarine-blue", "cobalt-blue", "chromium-oxide-green"}


def test_the_promise_is_kept_when_the_tile_is_cast():
    """Without a shade in demand: learn the advised tile as predicted, and look at the same mixtures again."""
    (one,) = next_tiles(PALETTE, count=1)
    measured = cm.Shade(PALETTE.predict(one.loads, one.base).lab, sd=PHOTO_SD)
    learned, _ = cm.learn(PALETTE, [cm.Tile(one.base, one.loads, measured)])
    rows = random_recipes(PALETTE, 400, cap=0.05, seed=8)
    before, after = (_expected(p, rows).mean() for p in (PALETTE, learned))
    assert (before - after) / before == pytest.approx((one.before - one.after) / one.before, abs=0.1)


def test_a_tile_already_cast_many_times_is_not_asked_for_again():
    (first,) = next_tiles(PALETTE, [ORANGE], 1)
    shade = cm.Shade(PALETTE.predict(first.loads, WHITE).lab, sd=0.3)
    learned, _ = cm.learn(PALETTE, [cm.Tile(WHITE, first.loads, shade)] * 6)
    assert next_tiles(learned, [ORANGE], 1)[0].loads != first.loads


def test_only_pigments_at_hand_within_the_cap():
    own = ["red-iron-oxide", "titanium-white", "carbon-black"]
    for one in next_tiles(PALETTE, [ORANGE], 6, pigments=own, load_cap=0.03, base="grey-cement"):
        assert set(one.loads) <= set(own)
        assert sum(one.loads.values()) <= 0.03 + 1e-9
        assert one.base == "grey-cement"
        assert one.loads.get("carbon-black", 0) <= 0.02
        PALETTE.predict(one.loads, one.base)  # a tile that may be cast


def test_a_shade_out_of_reach_of_the_pigments_at_hand_still_gets_advice():
    (one,) = next_tiles(PALETTE, [ORANGE], 1, pigments=["cobalt-blue"])
    assert set(one.loads) <= {"cobalt-blue"}
    assert np.isfinite(one.after)
    (blank,) = next_tiles(PALETTE, [ORANGE], 1, pigments=[])
    assert blank.loads == {}


def test_wet_shades_are_advised_wet():
    wet = PALETTE.predict({"red-iron-oxide": 0.02}, WHITE, "wet")
    one = next_tiles(PALETTE, [wet], 1, state="wet")[0]
    assert one.state == "wet"
    assert one.title.endswith("wet")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"count": 0}, "number of tiles is 0; it must be a whole number of at least 1"),
        ({"count": True}, "number of tiles is True"),
        ({"load_cap": 0.0}, "more than 0 to 0.1"),
        ({"load_cap": 0.2}, "more than 0 to 0.1"),
        ({"photo_sd": float("nan")}, "photo_sd is nan CIELAB units; it must be from 0 to 20"),
        ({"photo_sd": "x"}, "photo_sd must be a number"),
        ({"pigments": "red-iron-oxide"}, "must be a list of names"),
        ({"pigments": 3}, "must be a list of names"),
    ],
)
def test_nonsense_is_refused(changes, words):
    with pytest.raises(InputError, match=words):
        next_tiles(PALETTE, [ORANGE], **changes)


def test_what_is_no_palette_or_has_no_cement_gets_no_advice():
    with pytest.raises(InputError, match="Tiles are advised for a Palette"):
        starter_plan(None, "red-iron-oxide")
    with pytest.raises(InputError, match="The palette has no cement; add one"):
        next_tiles(only(PALETTE, [], PALETTE.pigments))


def test_without_a_pigment_a_blank_is_advised_and_no_plan_can_be():
    bare = only(PALETTE, [WHITE], [])
    assert [dict(one.loads) for one in next_tiles(bare, [ORANGE], 3)] == [{}]
    with pytest.raises(UnknownNameError, match=r"no pigment called 'ochre'\. There is no pigment at all; add one"):
        starter_plan(bare, "ochre")


def test_unknown_names_are_refused():
    for ask in (
        lambda: next_tiles(PALETTE, [ORANGE], base="clay"),
        lambda: next_tiles(PALETTE, [ORANGE], pigments=["ochre"]),
        lambda: next_tiles(PALETTE, [ORANGE], state="moist"),
        lambda: starter_plan(PALETTE, "ochre"),
    ):
        with pytest.raises(
            UnknownNameError, match=r"There is no (base called 'clay'|pigment called 'ochre'|state called 'moist')"
        ):
            ask()


def test_the_starter_plan_of_a_new_pigment():
    plan = starter_plan(PALETTE.with_pigment("jar-7"), "jar-7")
    assert [dict(one.loads) for one in plan] == [
        {},
        {"jar-7": 0.005},
        {"jar-7": 0.02},
        {"jar-7": 0.05},
        {"titanium-white": 0.02, "jar-7": 0.02},
    ]
    assert plan[-1].after < 0.2 * plan[0].before
    assert "scatter" in plan[-1].why


def test_the_starter_plan_keeps_a_pigments_own_maximum():
    plan = starter_plan(PALETTE, "carbon-black")
    assert max(one.loads.get("carbon-black", 0) for one in plan) == pytest.approx(0.02)
    assert all(sum(one.loads.values()) <= 0.02 + 1e-9 for one in plan if "carbon-black" in one.loads)


def test_a_palette_without_white_has_no_tint_to_ask_for():
    bare = starter_plan(PALETTE, "titanium-white")
    assert [one.kind for one in bare] == ["blank", "ladder", "ladder", "ladder"]


def test_errors_are_the_packages_own():
    with pytest.raises(ColormatchError, match=r"\.$"):
        next_tiles(PALETTE, [cm.Shade((50, 0, 0))], base="")


def test_advice_is_the_same_every_time():
    first, again = (next_tiles(PALETTE, [ORANGE], 3) for _ in range(2))
    assert [dict(one.loads) for one in first] == [dict(one.loads) for one in again]
    assert np.isfinite([one.after for one in first]).all()


def _expected(palette, rows):
    lab, covariance = palette.predict_with_covariance(rows, base=WHITE, casting=False)
    return expected_delta_e(lab, lab, covariance)
