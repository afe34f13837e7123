"""Uncertainty, slips, other lights and money, against sampling, closed forms and a published formula."""

import numpy as np
import pytest

import colormatch as cm
from colormatch import delta_e_2000
from colormatch.colorimetry import reflectance_to_lab
from colormatch.difference import expected_delta_e
from colormatch.lamps import lamp
from colormatch.mixture import lab_and_load_slopes, reflectance
from colormatch.recipes import judging
from colormatch.recipes.problem import Problem

LAMPS = [lamp(light) for light in judging.OTHER_LIGHTS]


@pytest.fixture(scope="module")
def problem(palette):
    return Problem(palette, "white-cement", "dry", cm.Limits(cement_g=400.0))


@pytest.fixture(scope="module")
def loads(palette):
    rng = np.random.default_rng(3)
    loads = np.zeros((6, len(palette.pigments)))
    for row in loads:
        row[rng.choice(len(row), 3, replace=False)] = rng.dirichlet([1, 1, 1]) * 0.018
    return loads


def steps_like(loads, problem):
    return np.full(loads.shape, problem.limits.step_load)


def test_one_reading_has_a_standard_uncertainty_of_the_step_over_the_root_of_twelve(palette):
    """GUM (JCGM 100:2008) F.2.2.1: d = 0.1 g gives 0.0288675 g; a dose is two readings."""
    problem = Problem(palette, "white-cement", "dry", cm.Limits(cement_g=1.0, load_cap=0.1))
    loads = np.zeros((1, len(palette.pigments)))
    loads[0, 0] = 0.02
    steps = np.full(loads.shape, 0.1)
    e = 1e-6
    slope = (problem.lab(loads + np.eye(9)[0] * e) - problem.lab(loads - np.eye(9)[0] * e))[0] / (2 * e)
    expected = np.outer(slope, slope) * 2 * 0.0288675**2
    _, known = palette.predict_with_covariance(loads, base="white-cement")
    _, slopes = lab_and_load_slopes(problem.coefficients, loads)
    _, found = judging.uncertainty(problem, loads, slopes, steps)
    np.testing.assert_allclose((found - known)[0], expected, rtol=1e-4, atol=1e-9)


def test_without_uncertainty_the_expected_distance_is_the_distance(palette, loads):
    sure = palette.with_posterior(palette.mean, 0 * palette.covariance, cast_sd=0.0)
    problem = Problem(sure, "white-cement", "dry", cm.Limits(scale_step_g=1e-6))
    targets = problem.lab(loads) + np.array([1.0, 2.0, -1.0])
    found = judging.judge(problem, loads, targets, np.zeros((len(loads), 3, 3)), steps_like(loads, problem))
    np.testing.assert_allclose(found.expected_delta_e, delta_e_2000(targets, problem.lab(loads)), rtol=1e-6)
    np.testing.assert_allclose(found.delta_e, delta_e_2000(targets, problem.lab(loads)), rtol=1e-12)


def test_the_targets_own_covariance_counts(problem, loads):
    targets, none = problem.lab(loads), np.zeros((len(loads), 3, 3))
    steps = steps_like(loads, problem)
    sure, unsure = (judging.judge(problem, loads, targets, none + sd * np.eye(3), steps) for sd in (0.0, 4.0))
    assert (unsure.expected_delta_e > sure.expected_delta_e).all()
    np.testing.assert_allclose(sure.expected_delta_e, expected_delta_e(targets, sure.lab, sure.covariance))


def test_a_coarser_scale_and_a_vaguer_target_raise_the_expected_distance(palette):
    sure = palette.with_posterior(palette.mean, 0 * palette.covariance)
    target = palette.predict({"red-iron-oxide": 0.004}, "white-cement").lab

    def expected(step, sd):
        limits = cm.Limits(cement_g=100, scale_step_g=step, pigments=["red-iron-oxide"])
        return cm.find_recipes(sure, cm.Shade(target, sd=sd), limits=limits)[0].expected_delta_e

    assert expected(0.1, 0.0) > expected(0.001, 0.0)
    assert expected(0.001, 2.0) > expected(0.001, 0.5) > expected(0.001, 0.0)


def test_a_slip_is_the_worst_of_the_doses_five_per_cent_over(problem, loads):
    found = judging.slip_delta_e(*lab_and_load_slopes(problem.coefficients, loads), loads)
    for row, slip in zip(loads, found, strict=True):
        moved = row + np.diag(0.05 * row)
        exact = delta_e_2000(problem.lab(row[None]), problem.lab(moved)).max()
        assert slip == pytest.approx(exact, rel=0.08)


def test_a_piece_does_not_change_against_its_own_spectrum(palette, problem, loads):
    """The special metamerism index of a sample against itself is zero under every light."""
    spectrum = palette.reflectance({"red-iron-oxide": 0.01}, "white-cement")
    row = palette.load_vector({"red-iron-oxide": 0.01})[None]
    assert judging.worst_metamerism(reflectance(problem.coefficients, row), spectrum, LAMPS)[0] == pytest.approx(
        0, abs=1e-9
    )
    assert judging.worst_metamerism(reflectance(problem.coefficients, loads), spectrum, LAMPS).min() > 0.01


def test_inconstancy_is_the_recipes_own_change_after_adaptation(palette, problem, loads):
    found = judging.worst_inconstancy(reflectance(problem.coefficients, loads), LAMPS)
    for row, change in zip(loads, found, strict=True):
        names = dict(zip(palette.pigments, row, strict=True))
        spectrum = palette.reflectance(names, "white-cement")
        by_hand = [
            delta_e_2000(reflectance_to_lab(spectrum), lamp(light).as_in_daylight(spectrum))
            for light in ("A", "D50", "F11", "LED-B3")
        ]
        assert change == pytest.approx(max(by_hand))


def test_a_flat_grey_does_not_change_with_the_light():
    """An ideal grey keeps a* = b* = 0 and its L* under every light, by the definition of CIELAB."""
    grey = np.full(31, 0.3)
    for light in judging.OTHER_LIGHTS:
        np.testing.assert_allclose(reflectance_to_lab(grey, light), reflectance_to_lab(grey), atol=1e-9)
        np.testing.assert_allclose(lamp(light).as_in_daylight(grey), reflectance_to_lab(grey), atol=1e-9)


def test_cost_is_grams_times_price(palette):
    problem = Problem(palette, "white-cement", "dry", cm.Limits(cement_g=500))
    row = palette.load_vector({"red-iron-oxide": 0.02, "titanium-white": 0.01})[None]
    by_hand = (10 * palette.pigments["red-iron-oxide"].price_per_kg) / 1000
    by_hand += (5 * palette.pigments["titanium-white"].price_per_kg) / 1000
    assert judging.batch_cost(problem, row)[0] == pytest.approx(by_hand)


def test_an_unknown_price_makes_the_cost_unknown(palette):
    grown = palette.with_pigment("jar-7", like="red-iron-oxide", price_per_kg=None)
    recipes = cm.find_recipes(grown, cm.Shade((55, 18, 17)), limits=cm.Limits(pigments=["jar-7"]))
    assert recipes[0].cost is None
    problem = Problem(grown, "white-cement", "dry", cm.Limits())
    assert np.isnan(judging.batch_cost(problem, grown.load_vector({"jar-7": 0.01})[None])[0])
