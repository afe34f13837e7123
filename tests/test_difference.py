"""Laws of the colour differences; the published pairs are in tests/published."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch import difference
from colormatch.difference import delta_e_2000, metamerism_index
from colormatch.errors import InputError

labs = st.tuples(st.floats(0, 100), st.floats(-100, 100), st.floats(-100, 100))


@given(labs, labs)
def test_symmetric_and_never_negative(one, two):
    there, back = delta_e_2000(one, two), delta_e_2000(two, one)
    assert there >= 0
    assert there == pytest.approx(float(back), abs=1e-9)


@given(labs)
def test_no_difference_from_itself(one):
    assert delta_e_2000(one, one) == 0


def test_broadcasts_one_against_many():
    many = np.array([[50.0, 0, 0], [60, 10, 10]])
    assert delta_e_2000(many[0], many).shape == (2,)


def test_a_colour_needs_three_numbers():
    with pytest.raises(InputError, match="last axis"):
        delta_e_2000([1, 2], [1, 2, 3])


def test_no_metamerism_when_the_shift_is_the_same_under_both_lights():
    standard, sample = np.array([50.0, 10, 10]), np.array([51.0, 11, 9])
    shift = np.array([1.0, 3, 4])
    index = metamerism_index(standard, standard + shift, sample, sample + shift)
    assert index == pytest.approx(0, abs=1e-9)


def pairs(count=400, *, apart=8.0, seed=0):
    """Colours of all sorts and others near them, (count, 3) each."""
    rng = np.random.default_rng(seed)
    one = rng.random((count, 3)) * [100, 120, 120] - [0, 60, 60]
    return one, one + rng.normal(size=one.shape) * apart


def differences(function, at, step=1e-5):
    """Central differences in the colours `at` (n, 3), the derivative along the last axis."""
    moves = step * np.eye(3)
    return np.stack([(function(at + e) - function(at - e)) / (2 * step) for e in moves], axis=-1)


def test_the_parts_squares_add_up_and_have_their_signs():
    one, two = pairs(apart=30)
    parts = difference.parts(one, two)
    np.testing.assert_allclose((parts**2).sum(axis=1), delta_e_2000(one, two) ** 2, rtol=1e-12)
    lighter, stronger = difference.parts([50, 20, 0], [60, 20, 0]), difference.parts([50, 20, 0], [50, 30, 0])
    assert lighter[0] > 0
    assert stronger[1] > 0
    assert difference.parts([50, 20, 0], [50, 20, 2])[2] > 0


@pytest.mark.parametrize("apart", [0.5, 8.0, 30.0])
def test_slopes_against_differences(apart):
    one, two = pairs(apart=apart)
    parts, slopes = difference.slopes(one, two)
    np.testing.assert_array_equal(parts, difference.parts(one, two))
    chroma = np.hypot(two[:, 1], two[:, 2])
    hue_apart = np.abs((np.arctan2(one[:, 2], one[:, 1]) - np.arctan2(two[:, 2], two[:, 1])) % (2 * np.pi) - np.pi)
    usual = (chroma > 0.5) & (hue_apart > 1e-3)  # not at a grey, nor where the mean hue jumps
    expected = differences(lambda lab: difference.parts(one, lab), two)
    np.testing.assert_allclose(slopes[usual], expected[usual], atol=1e-6)


@pytest.mark.parametrize("lab", [(50, 0, 0), (20, 0, 0), (93, 0, 0)])
def test_metric_of_a_grey(lab):
    """Equations (4) and (5) stretch a* by 1 + G = 1.5 at a grey; S_C = S_H = 1 and nothing is rotated there."""
    off = (lab[0] - 50) ** 2
    lightness = 1 + 0.015 * off / np.sqrt(20 + off)
    np.testing.assert_allclose(difference.metric(lab), np.diag([1 / lightness**2, 2.25, 1]), atol=1e-12)


def test_metric_is_the_difference_of_near_colours():
    lab, _ = pairs(300)
    lab = np.concatenate([lab, lab * [1, 1e-7, 1e-7], lab * [1, 0, 0], lab * [1, 1e-3, 1e-3]])  # greys, and nearly
    error = np.random.default_rng(1).normal(size=lab.shape) * 1e-4
    metric = difference.metric(lab)
    np.testing.assert_allclose(metric, np.swapaxes(metric, 1, 2))
    expected = np.einsum("ni,nij,nj->n", error, metric, error)
    np.testing.assert_allclose(delta_e_2000(lab, lab + error) ** 2, expected, rtol=1e-3)


def test_curvature_against_differences_of_the_exact_gradient():
    one, two = pairs(100, apart=15)
    two = two[np.hypot(two[:, 1], two[:, 2]) > 3]
    one = one[: len(two)]

    def exact(lab):
        parts, slopes = difference.slopes(one, lab)
        return 2 * np.einsum("ni,nij->nj", parts, slopes)

    square, gradient, curvature = difference.curvature(one, two)
    np.testing.assert_allclose(square, delta_e_2000(one, two) ** 2, rtol=1e-12)
    np.testing.assert_allclose(gradient, exact(two), rtol=1e-3, atol=2e-2)
    near = np.abs(curvature - differences(exact, two)).max(axis=(1, 2)) < 0.05
    assert near.mean() > 0.95  # the others lie where the mean hue jumps
    np.testing.assert_allclose(curvature, np.swapaxes(curvature, 1, 2))


def test_slopes_at_a_grey_are_finite():
    _, slopes = difference.slopes([[50, 0, 0], [50, 0, 0], [50, 20, 10]], [[50, 0, 0], [50, 20, 10], [50, 0, 0]])
    assert np.isfinite(slopes).all()


def test_a_broadcast_of_one_target_against_many():
    one, two = pairs(5)
    parts, slopes = difference.slopes(one[0], two)
    assert (parts.shape, slopes.shape) == ((5, 3), (5, 3, 3))
    np.testing.assert_array_equal(slopes[2], difference.slopes(one[0], two[2])[1])


def test_expectation_against_sampling():
    """The mean, and what nine in ten stay under, of colours drawn around a target and beside it."""
    rng, target = np.random.default_rng(3), np.array([55.0, 20.0, 15.0])
    for off, sds in (((0, 0, 0), (1, 2, 1.4)), ((2, -1, 3), (1, 1, 3)), ((0, 8, 0), (0.3, 0.1, 0.2))):
        root = rng.normal(size=(3, 3)) * np.array(sds)[:, None]
        covariance, middle = root @ root.T, target + off
        drawn = delta_e_2000(target, rng.multivariate_normal(middle, covariance, size=100_000))
        assert difference.expected_delta_e(target, middle, covariance) == pytest.approx(drawn.mean(), rel=0.05)
        _, likely = difference.expected_and_likely(target, middle, covariance)
        assert likely == pytest.approx(np.quantile(drawn, 0.9), rel=0.06)


def test_expectation_of_what_is_certain_is_the_distance():
    one, two = pairs(50)
    sure = np.zeros((50, 3, 3))
    np.testing.assert_allclose(difference.expected_delta_e(one, two, sure), delta_e_2000(one, two), rtol=1e-12)
    _, likely = difference.expected_and_likely(one, two, sure)
    np.testing.assert_allclose(likely, delta_e_2000(one, two), atol=1e-6)
    together = difference.expected_delta_e(one, two, np.eye(3))
    assert together.shape == (50,)  # more than one cacheful
    assert together[-1] == pytest.approx(float(difference.expected_delta_e(one[-1], two[-1], np.eye(3))))
