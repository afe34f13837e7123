"""Contrast of two tones: the right difference, and uncertainty that knows what the tones share."""

import colour
import numpy as np
import pytest

import colormatch as cm
from colormatch.design import contrast
from colormatch.design.contrasts import joint_prediction
from colormatch.loads import Mix
from colormatch.palette import parameter_slopes_at

PALETTE = cm.starter_palette()
SURE = PALETTE.with_posterior(PALETTE.mean, PALETTE.covariance * 1e-6, cast_sd=0.1)
RED = {"red-iron-oxide": 0.02}
STATES = ["wet", "demould", "dry", "sealed"]


def two_tone(first, second, bases=("white-cement", "white-cement")):
    return Mix.of(bases[0], first), Mix.of(bases[1], second)


@pytest.mark.published
def test_difference_is_that_of_the_reference_library():
    plan = two_tone(RED, {"black-iron-oxide": 0.01})
    found = contrast(PALETTE, *plan)
    for state in STATES:
        one, two = (PALETTE.predict(tone.loads, tone.base, state).lab for tone in plan)
        assert found.states[state].delta_e == pytest.approx(colour.delta_E(one, two, method="CIE 2000"), abs=1e-6)
        assert found.states[state].delta_lightness == pytest.approx(two[0] - one[0])


def test_equal_tones_differ_only_by_casting():
    """Two casts of one recipe: variance of the difference 2 cast_sd^2, whatever is not known of the pigments."""
    plan = two_tone(RED, RED)
    _, covariance = joint_prediction(PALETTE, plan, ["dry"])
    apart = np.hstack([np.eye(3), -np.eye(3)])
    assert apart @ covariance @ apart.T == pytest.approx(2 * PALETTE.cast_sd**2 * np.eye(3), abs=1e-6)
    found = contrast(PALETTE, *plan)
    assert found.states["dry"].delta_e == pytest.approx(0, abs=1e-9)
    assert found.states["dry"].high < 3.0 < PALETTE.predict(RED, "white-cement").sd
    assert any("read as one in every state" in sentence for sentence in found.warnings)


@pytest.mark.slow
def test_interval_agrees_with_the_whole_model_drawn_at_random():
    """Brute force: parameters drawn from the posterior, both tones predicted anew, without linearising."""
    palette = PALETTE.with_posterior(PALETTE.mean, PALETTE.covariance * 0.02, cast_sd=0.5)
    plan = two_tone(RED, {"red-iron-oxide": 0.02, "black-iron-oxide": 0.005})
    found = contrast(palette, *plan).states
    rng = np.random.default_rng(4)
    values, vectors = np.linalg.eigh(palette.covariance)
    root = vectors * np.sqrt(np.maximum(values, 0))
    loads = [palette.load_vector(tone.loads)[None, :] for tone in plan]
    for state in ("wet", "dry"):
        drawn = []
        for _ in range(1500):
            at = palette.mean + root @ rng.standard_normal(len(root))
            one, two = (
                parameter_slopes_at(palette, at, load, "white-cement", state)[0][0] + rng.normal(0, 0.5, 3)
                for load in loads
            )
            drawn.append(cm.delta_e_2000(one, two))
        low, high = np.quantile(drawn, [0.05, 0.95])
        assert found[state].low == pytest.approx(low, abs=0.35)
        assert found[state].high == pytest.approx(high, abs=0.35)


def test_tones_that_part_company_as_they_dry_are_named():
    """White cement tinted grey beside grey cement whitened: alike dry, apart wet, and the other way round."""
    tinted, whitened = {"black-iron-oxide": 0.005}, {"titanium-white": 0.03}
    found = _nearly_equal(SURE, tinted, whitened, equal_in="dry")
    assert found.states["dry"].reads == "one"
    assert found.states["wet"].reads == "two"
    assert any(s.startswith("Reads as two tones wet") and "as one when dry" in s for s in found.warnings)
    whitened = {"titanium-white": 0.02, "black-iron-oxide": 0.02}
    found = _nearly_equal(SURE, tinted, whitened, equal_in="wet")
    assert (found.states["wet"].reads, found.states["dry"].reads) == ("one", "two")
    assert any(s.startswith("Reads as one tone wet") and "as two when dry" in s for s in found.warnings)


def _nearly_equal(palette, tinted, whitened, equal_in):
    """Search the loads of both tones for the pair alike in one state and furthest apart in the other."""
    other = "wet" if equal_in == "dry" else "dry"
    blues = browns = (0.0, 0.001, 0.0025, 0.005)
    ones = [
        {**tinted, "black-iron-oxide": black, "ultramarine-blue": blue}
        for black in np.geomspace(0.001, 0.02, 60)
        for blue in blues
    ]
    twos = [{**whitened, "brown-iron-oxide": brown} for brown in browns]
    near, far = (
        cm.delta_e_2000(
            palette.predict_many([palette.load_vector(x) for x in ones], base="white-cement", state=state)[:, None],
            palette.predict_many([palette.load_vector(x) for x in twos], base="grey-cement", state=state)[None],
        )
        for state in (equal_in, other)
    )
    first, second = np.unravel_index(np.where(near < 1.95, far, 0).argmax(), far.shape)
    return contrast(palette, *two_tone(ones[first], twos[second], ("white-cement", "grey-cement")))


def test_what_may_happen_is_said_where_little_is_known():
    plan = two_tone({"black-iron-oxide": 0.005}, {"titanium-white": 0.03}, ("white-cement", "grey-cement"))
    sure = contrast(SURE, *plan)
    for state in STATES:
        found = contrast(PALETTE, *plan).states[state]
        assert found.high - found.low > 5 * (sure.states[state].high - sure.states[state].low)


def test_a_sealer_of_ones_own_is_a_state_too():
    found = contrast(PALETTE.with_sealer("wax"), *two_tone(RED, {}))
    assert set(found.states) == {*STATES, "sealed:wax"}
