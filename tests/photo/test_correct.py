"""The laws of the correction: what is invariant, what is honest, what is chosen."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from colormatch.colorimetry import reflectance_to_lab, srgb_decode
from colormatch.difference import delta_e_2000
from colormatch.photo.background import NO_BACKGROUND
from colormatch.photo.camera_model import (
    BLOCKS,
    N_PARAMETERS,
    N_PICTURE,
    PLACES,
    PRIOR_MEAN,
    is_possible,
    light_expected,
    light_seen,
    light_to_lab,
    light_to_lab_slopes,
    neutral_seen,
    sensor_shapes,
    sensor_to_rgb,
)
from colormatch.photo.chart import chart_lab, chart_reflectance
from colormatch.photo.correct import GENERIC, CameraEstimate, Correction, Observations
from colormatch.photo.fit import _Fit, choose
from colormatch.photo.population import View, coloured_like, population
from tests.worlds.camera import Camera, camera_matrix, develop, lamp_spectrum, sensitivities
from tests.worlds.scenes import cement_spectra

RNG = np.random.default_rng(5)
PLACE = RNG.uniform(-0.4, 0.4, (24, 2))
NO_NOISE = np.zeros((24, 3, 3))


def seen_by(camera: Camera, spectra: np.ndarray, place: np.ndarray, *, exposure: float = 0.75) -> np.ndarray:
    """Linear rgb as decoded from a noiseless picture under daylight with a slope of the light."""
    light, sensor = lamp_spectrum("daylight"), sensitivities(camera.name)
    balanced = (spectra * light) @ sensor / (light @ sensor) * [1.04, 1, 0.95]
    linear = balanced @ camera_matrix(camera.name, False).T * exposure * (1 + 0.15 * place[:, :1])
    return srgb_decode(develop(linear, camera) / 255)


def chart_in(camera: Camera, **change: float) -> Observations:
    rgb = seen_by(camera, chart_reflectance(), PLACE, **change)
    keep = (rgb > 0.002).all(axis=1) & (rgb < 0.97).all(axis=1)
    chart = Observations(rgb, PLACE, chart_lab(), chart_reflectance(), np.full(24, 0.3), np.zeros(24), NO_NOISE)
    return only(chart, keep)


def only(seen: Observations, which: np.ndarray) -> Observations:
    return Observations(**{f.name: getattr(seen, f.name)[which] for f in fields(seen)})


@pytest.fixture(scope="module")
def fitted() -> Correction:
    return choose(chart_in(Camera.named("camera-a")))


def test_at_zero_the_picture_is_srgb() -> None:
    rgb = RNG.uniform(0.01, 0.99, (10, 3))
    assert np.allclose(light_seen(np.zeros(N_PICTURE), rgb, PLACE[:10]), rgb, atol=1e-9)
    spectra = cement_spectra(1, 5)
    assert np.allclose(light_to_lab(light_expected(np.zeros(N_PARAMETERS), spectra)), reflectance_to_lab(spectra))


def test_light_scales_with_the_gain() -> None:
    """Root-polynomial terms are of first order: twice the light is twice the light (Finlayson et al. 2015)."""
    parameters = PRIOR_MEAN.copy()
    parameters[PLACES["root"]] = RNG.normal(0, 0.2, 9)
    brighter = parameters.copy()
    brighter[PLACES["gain"]] += np.log(2)
    rgb = RNG.uniform(0.05, 0.6, (10, 3))
    assert np.allclose(light_seen(brighter, rgb, PLACE[:10]), 2 * light_seen(parameters, rgb, PLACE[:10]))


def test_neutrals_stay_neutral_whatever_the_mixing_and_the_sensor() -> None:
    parameters = np.zeros(N_PARAMETERS)
    for name in ("root", "matrix", "sensor"):
        parameters[PLACES[name]] = RNG.normal(0, 0.2, BLOCKS[name][0])
    grey = np.repeat(RNG.uniform(0.05, 0.9, (6, 1)), 3, axis=1)
    assert np.allclose(light_seen(parameters, grey, PLACE[:6]), grey)
    assert np.allclose(light_expected(parameters, np.full((1, 31), 0.3)), 0.3, atol=1e-4)
    assert np.abs(sensor_shapes().sum(axis=0)).max() < 1e-12


def test_the_white_balance_acts_before_the_cameras_matrix() -> None:
    """As in every camera's raw chain: sensor values, times the balance, through the matrix."""
    sensor, balance = RNG.uniform(0.1, 0.5, (10, 3)), np.array([1.1, 1.0, 0.9])
    parameters = np.zeros(N_PARAMETERS)
    parameters[PLACES["matrix"]] = RNG.normal(0, 0.3, 6)
    parameters[PLACES["gain"]] = -np.log(balance)
    matrix = sensor_to_rgb(parameters[PLACES["matrix"]])
    assert np.allclose(matrix.sum(axis=1), 1)
    assert np.allclose(light_seen(parameters, sensor * balance @ matrix.T, PLACE[:10]), sensor @ matrix.T)
    seen = balance @ matrix.T
    assert np.allclose(neutral_seen(parameters), seen / seen.mean())


def test_without_a_cast_the_matrix_does_not_matter() -> None:
    rgb = RNG.uniform(0.05, 0.6, (10, 3))
    parameters = PRIOR_MEAN.copy()
    other = parameters.copy()
    other[PLACES["matrix"]] = RNG.normal(0, 0.3, 6)
    assert np.allclose(light_seen(other, rgb, PLACE[:10]), light_seen(parameters, rgb, PLACE[:10]))


def test_slopes_of_the_light_match_differences() -> None:
    light = RNG.uniform(0.02, 0.9, (8, 3))
    slopes = light_to_lab_slopes(light)
    for i in range(3):
        step = np.zeros(3)
        step[i] = 1e-6
        numeric = (light_to_lab(light + step) - light_to_lab(light - step)) / 2e-6
        assert np.allclose(slopes[..., i], numeric, rtol=1e-4, atol=1e-3)


def test_residual_slopes_match_differences() -> None:
    fit = _Fit(chart_in(Camera.named("camera-a")), NO_BACKGROUND, GENERIC, tuple(BLOCKS), 0.3)
    mean = PRIOR_MEAN + 0.02 * RNG.normal(size=N_PARAMETERS)
    _, slopes = fit.residual(mean)
    for i in range(0, N_PARAMETERS, 5):
        step = np.zeros(N_PARAMETERS)
        step[i] = 1e-6
        numeric = (fit.residual(mean + step)[0] - fit.residual(mean - step)[0]) / 2e-6
        assert np.allclose(slopes[..., i], numeric, rtol=2e-2, atol=2e-2)


def test_tone_curves_that_fall_and_matrices_beyond_any_sensor_are_recognised() -> None:
    assert is_possible(PRIOR_MEAN)
    for name, far in (("bend", 1.5), ("matrix", 3.0)):
        bad = PRIOR_MEAN.copy()
        bad[PLACES[name]] = far
        assert not is_possible(bad)
    edge = np.zeros((200, N_PICTURE))
    edge[:, PLACES["matrix"]] = RNG.uniform(-2, 2, (200, 6))
    back = light_seen(edge, np.full((1, 3), 0.3), PLACE[:1])
    assert np.allclose(back, 0.3, rtol=1e-4)


def test_a_lone_card_is_believed_however_strong_the_cast() -> None:
    """A white balance that no prior expects is still the card's word against a guess."""
    grey = np.full((1, 31), 0.18)
    lab = reflectance_to_lab(grey)
    for cast in ([0.30, 0.09, 0.32], [0.08, 0.18, 0.40], [0.40, 0.16, 0.05]):
        rgb = np.array([cast])
        card = Observations(rgb, PLACE[:1], lab, grey, np.array([0.6]), np.zeros(1), NO_NOISE[:1])
        read, _ = choose(card).predict(rgb[0], PLACE[0])
        assert delta_e_2000(read, lab[0]) < 1.5


@pytest.mark.parametrize("camera", ["camera-a", "camera-b", "camera-c"])
def test_a_chart_teaches_a_camera_to_read_cement(camera: str) -> None:
    made = Camera.named(camera)
    correction = choose(chart_in(made))
    spectra, place = cement_spectra(31, 20), RNG.uniform(-0.3, 0.3, (20, 2))
    read = [correction.predict(rgb, at) for rgb, at in zip(seen_by(made, spectra, place), place, strict=True)]
    errors = delta_e_2000(np.array([lab for lab, _ in read]), reflectance_to_lab(spectra))
    assert errors.mean() < 1.6
    assert correction.reference_error < 1.5


def test_left_out_error_is_that_of_really_leaving_out() -> None:
    """The one-step formula against refitting without the patch, for six patches of a hard case."""
    seen = chart_in(Camera.named("camera-b"))
    whole = _Fit(seen, NO_BACKGROUND, GENERIC, tuple(BLOCKS), 0.3).solve()
    refitted = []
    picked = range(0, len(seen), 4)
    for i in picked:
        others = only(seen, np.arange(len(seen)) != i)
        mean = _Fit(others, NO_BACKGROUND, GENERIC, tuple(BLOCKS), 0.3).solve(whole.estimate.mean).estimate.mean
        light = light_seen(mean, seen.rgb[i : i + 1], seen.place[i : i + 1])
        expected = light_expected(mean, seen.reflectance[i : i + 1])
        off = (light_to_lab(light) - light_to_lab(expected))[0]
        refitted.append(float(delta_e_2000(seen.lab[i] + off, seen.lab[i])))
    formula = whole.left_out[list(picked)]
    assert abs(np.mean(formula) / np.mean(refitted) - 1) < 0.35


def test_a_linear_srgb_picture_needs_no_tone_curve() -> None:
    """Where the picture is sRGB already, no variant does harm."""
    rgb = light_expected(np.zeros(N_PARAMETERS), chart_reflectance()) * 0.8
    seen = Observations(rgb, PLACE, chart_lab(), chart_reflectance(), np.full(24, 0.3), np.zeros(24), NO_NOISE)
    correction = choose(only(seen, (rgb > 0.002).all(axis=1)))
    spectra = cement_spectra(3, 10)
    for spectrum in spectra:
        lab, _ = correction.predict(0.8 * light_expected(np.zeros(N_PARAMETERS), spectrum), np.zeros(2))
        assert delta_e_2000(lab, reflectance_to_lab(spectrum)) < 1.0


def test_more_knowledge_means_less_uncertainty(fitted: Correction) -> None:
    at = np.array([0.2, 0.15, 0.1])
    tight = CameraEstimate(GENERIC.mean, GENERIC.covariance * 0.05)
    from_card = choose(only(chart_in(Camera.named("camera-a")), np.arange(23) == 18))
    trace = [float(np.trace(c.predict(at, np.zeros(2))[1])) for c in (from_card, fitted)]
    assert trace[0] > 4 * trace[1]
    card_known_camera = choose(only(chart_in(Camera.named("camera-a")), np.arange(23) == 18), tight)
    assert np.trace(card_known_camera.predict(at, np.zeros(2))[1]) < trace[0]


def test_swatches_pull_like_colours_and_leave_others(fitted: Correction) -> None:
    from dataclasses import replace

    lab, _ = fitted.predict(np.array([0.25, 0.15, 0.1]), np.zeros(2))
    kin = replace(
        fitted, kin_lab=lab[None] + [[1.0, 0, 0]], kin_off=np.array([[1.5, 0.0, -1.0]]), kin_sd=np.array([0.2])
    )
    near = kin.predict(np.array([0.25, 0.15, 0.1]), np.zeros(2))[0] - lab
    assert near[0] < -0.8
    far_rgb = np.array([0.1, 0.2, 0.5])
    far = kin.predict(far_rgb, np.zeros(2))[0] - fitted.predict(far_rgb, np.zeros(2))[0]
    assert np.abs(far).max() < 0.1


def test_the_crowd_holds_what_cement_looks_like() -> None:
    everyone = population()
    assert everyone.reflectance.min() > 0
    assert everyone.reflectance.max() < 1
    assert np.allclose(everyone.lab, reflectance_to_lab(everyone.reflectance))
    spectra = cement_spectra(77, 30)
    for spectrum, lab in zip(spectra, reflectance_to_lab(spectra), strict=True):
        assert np.linalg.norm(everyone.lab - lab, axis=1).min() < 8
        like = coloured_like(lab)
        assert np.allclose(like.lab, lab, atol=0.05)
        assert np.abs(like.reflectance - spectrum).mean() < 0.05


def test_a_camera_that_sees_as_srgb_is_read_exactly() -> None:
    from colormatch.photo.camera_model import srgb_curves

    for spectrum in cement_spectra(4, 10):
        like = View.through(srgb_curves()).read(spectrum @ srgb_curves())
        assert delta_e_2000(like.lab, reflectance_to_lab(spectrum)) < 1e-6
