"""Correcting the next batch from the shade of the last."""

import numpy as np
import pytest

import colormatch as cm
from colormatch import delta_e_2000
from colormatch.errors import LoadError, RecipeError, UnknownNameError
from colormatch.recipes import correct_next_batch
from colormatch.recipes.next_batch import palette_after

TARGET = cm.Shade((60, 12, 18))
SURE = 0.3  # sd of a measured shade


@pytest.fixture(scope="module")
def last(palette):
    return min(cm.find_recipes(palette, TARGET), key=lambda recipe: recipe.delta_e)


def true_studio(palette, seed):
    """The palette of a studio whose pigments differ from the starter ones, within the prior."""
    rng = np.random.default_rng(seed)
    drawn = rng.multivariate_normal(palette.mean, 0.1 * palette.covariance, method="eigh")
    return palette.with_posterior(drawn, palette.covariance)


def test_a_piece_that_came_out_right_is_cast_again_as_it_was(palette, last):
    corrected = correct_next_batch(palette, last.loads, cm.Shade(TARGET.lab, sd=SURE), TARGET)
    assert corrected.grams == last.grams
    assert "Cast it again as it was" in corrected.verdict


@pytest.mark.slow
def test_the_second_batch_is_nearer_in_studios_drawn_from_the_prior(palette, last):
    """The law this is for: after one correction the true shade is nearer the target, nearly always."""
    before, after = [], []
    for seed in range(25):
        studio = true_studio(palette, seed)
        cast = studio.predict(last.loads, "white-cement").lab
        corrected = correct_next_batch(palette, last.loads, cm.Shade(cast, sd=SURE), TARGET)
        before.append(float(delta_e_2000(TARGET.lab, cast)))
        after.append(float(delta_e_2000(TARGET.lab, studio.predict(corrected.loads, "white-cement").lab)))
    before, after = np.array(before), np.array(after)
    assert np.median(after) < 0.5 * np.median(before)
    assert (after <= before + 0.3).mean() >= 0.9


def test_a_difference_within_the_noise_moves_little(palette, last):
    off = cm.Shade(TARGET.lab + np.array([1.5, 0, 0]), sd=3.0)
    sharp = cm.Shade(TARGET.lab + np.array([1.5, 0, 0]), sd=0.1)
    sure = palette.with_posterior(palette.mean, 0.02 * palette.covariance)

    def moved(measured):
        corrected = correct_next_batch(sure, last.loads, measured, TARGET, tolerance=0.1)
        names = set(corrected.grams) | set(last.grams)
        return sum(abs(corrected.grams.get(n, 0) - last.grams.get(n, 0)) for n in names)

    assert moved(off) < moved(sharp)


def test_a_wider_tolerance_asks_for_a_smaller_change(palette, last):
    measured = cm.Shade(TARGET.lab + np.array([3, -1, -2]), sd=SURE)

    def moved(tolerance):
        corrected = correct_next_batch(palette, last.loads, measured, TARGET, tolerance=tolerance)
        return sum(abs(corrected.grams.get(n, 0) - g) for n, g in last.grams.items())

    assert moved(2.0) < moved(1.0) < moved(0.1)
    assert moved(10.0) == 0


def test_it_keeps_the_pigments_it_had_where_they_can_do_it(palette, last):
    measured = cm.Shade(TARGET.lab + np.array([2, 0, 0]), sd=SURE)
    assert set(correct_next_batch(palette, last.loads, measured, TARGET).grams) <= set(last.grams)


def test_it_takes_one_more_where_they_cannot(palette):
    loads = {"red-iron-oxide": 0.01}
    target = cm.Shade((58, 14, 24))  # yellower than red alone can be
    corrected = correct_next_batch(palette, loads, palette.predict(loads, "white-cement"), target)
    assert len(corrected.grams) == 2
    assert corrected.delta_e < float(delta_e_2000(target.lab, palette.predict(loads, "white-cement").lab)) - 1


def test_the_words_name_every_change(palette, last):
    corrected = correct_next_batch(palette, last.loads, cm.Shade(TARGET.lab + np.array([4, 0, 0]), sd=SURE), TARGET)
    for name in corrected.grams:
        changed = abs(corrected.grams[name] - last.grams.get(name, 0)) > 0.05
        assert (palette.label(name) in corrected.verdict) == changed
    assert "more" in corrected.verdict or "less" in corrected.verdict


def test_the_piece_is_learned_by_its_weight(palette, last):
    """A one-tile update in closed form: with a linear model, told exactly, it is the Kalman gain."""
    loads = palette.load_vector(last.loads)
    lab, slopes = palette.parameter_slopes(loads[None], base="white-cement")
    measured = cm.Shade(lab[0] + [0.01, 0.0, 0.0], sd=1.0)  # so small a step that the model is linear
    told = palette_after(palette, loads, measured, "white-cement", "dry")
    noise = (1.0 + palette.cast_sd**2) * np.eye(3)
    j, c = slopes[0], palette.covariance
    gain = c @ j.T @ np.linalg.inv(j @ c @ j.T + noise)
    np.testing.assert_allclose(told.mean - palette.mean, gain @ [0.01, 0, 0], atol=2e-5)
    np.testing.assert_allclose(told.covariance, c - gain @ j @ c, atol=2e-3)


def test_what_cannot_be_corrected_is_explained(palette, last):
    with pytest.raises(UnknownNameError, match="no-such"):
        correct_next_batch(palette, {"no-such": 0.01}, TARGET, TARGET)
    with pytest.raises(LoadError, match="must be from 0"):
        correct_next_batch(palette, {"red-iron-oxide": 0.5}, TARGET, TARGET)
    name = next(iter(last.loads))
    with pytest.raises(RecipeError, match="never-use"):
        correct_next_batch(palette, last.loads, TARGET, TARGET, limits=cm.Limits(never_use=[name]))
    with pytest.raises(RecipeError, match="may have 1"):
        correct_next_batch(palette, last.loads, TARGET, TARGET, limits=cm.Limits(max_pigments=1))


def test_a_cap_lowered_since_is_kept(palette, last):
    limits = cm.Limits(load_cap=last.total_load / 2)
    corrected = correct_next_batch(palette, last.loads, cm.Shade(TARGET.lab, sd=SURE), TARGET, limits=limits)
    assert corrected.total_load <= limits.load_cap + 1e-12
