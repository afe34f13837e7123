"""The colour of a region: pits, glints, stains and edges do not pull it."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from colormatch.colorimetry import srgb_decode
from colormatch.photo import load_picture
from colormatch.photo.regions import region_outline
from colormatch.photo.sampling import Sample, sample_region, sheen

COLOUR = np.array([150.0, 110, 80])


def surface(seed: int = 0, noise: float = 4.0) -> np.ndarray:
    return COLOUR + np.random.default_rng(seed).normal(0, noise, (120, 160, 1))


def sampled(values: np.ndarray, box: tuple[float, float, float, float] = (10, 10, 150, 110)) -> Sample:
    buffer = io.BytesIO()
    Image.fromarray(np.clip(np.round(values), 0, 255).astype(np.uint8)).save(buffer, "PNG")
    picture = load_picture(buffer.getvalue())
    return sample_region(picture, region_outline(box, picture.size))


def test_the_mean_of_an_even_surface() -> None:
    sample = sampled(surface())
    assert np.allclose(sample.rgb, srgb_decode(COLOUR / 255), rtol=0.01)
    assert sample.kept > 0.9
    assert sample.clipped == 0


def test_pits_and_glints_do_not_pull() -> None:
    """A sixth of the region in pits and glints moves the mean by less than 1 %; a plain mean by over 5 %."""
    values = surface()
    rng = np.random.default_rng(3)
    y, x = np.mgrid[:120, :160]
    for number in range(60):
        cx, cy = rng.uniform(0, 160), rng.uniform(0, 120)
        values[(x - cx) ** 2 + (y - cy) ** 2 < 16] = 40 if number % 3 else 252
    plain = srgb_decode(values[10:110, 10:150] / 255).mean(axis=(0, 1))
    sample = sampled(values)
    true = srgb_decode(COLOUR / 255)
    assert np.abs(plain / true - 1).max() > 0.05
    assert np.abs(sample.rgb / true - 1).max() < 0.01
    assert 0.7 < sample.kept < 0.95


def test_a_stain_of_another_hue_is_set_aside() -> None:
    values = surface()
    values[60:90, 60:100] += np.array([25, -10, -25])
    sample = sampled(values)
    assert np.allclose(sample.rgb, srgb_decode(COLOUR / 255), rtol=0.01)
    assert sample.kept < 0.95


def test_clipping_is_counted() -> None:
    values = surface()
    values[..., 0] += 120
    assert sampled(values).clipped_high > 0.9
    assert sampled(surface() * [1, 1, 0]).clipped_low > 0.9


def test_noise_of_the_mean_is_what_repeated_pictures_show() -> None:
    """The stated covariance against 40 pictures of the same noisy surface, within a factor of two."""
    many = [sampled(surface(seed, noise=12), (20, 20, 60, 60)) for seed in range(40)]
    stated = np.mean([np.trace(s.covariance) for s in many])
    scatter = np.trace(np.cov(np.array([s.rgb for s in many]).T))
    assert 0.5 < stated / scatter < 2.0


def test_a_slope_within_the_region_shows_as_spread() -> None:
    ramp = np.linspace(0.6, 1.3, 160)[None, :, None]
    assert sampled(surface() * ramp).spread > 0.12
    assert sampled(surface()).spread < 0.02


def test_large_regions_are_reduced_not_cut() -> None:
    big = np.repeat(np.repeat(surface(), 8, axis=0), 8, axis=1)
    assert np.allclose(sampled(big, (80, 80, 1200, 880)).rgb, sampled(surface()).rgb, rtol=0.01)


def test_mirrored_light_is_told_from_shading_and_noise() -> None:
    rng = np.random.default_rng(1)
    brown, noise = np.array([0.06, 0.04, 0.02]), rng.normal(0, 3e-4, (25, 3))
    shaded = brown * rng.uniform(0.9, 1.1, (25, 1))
    mirrored = rng.uniform(0, 0.01, (25, 1))
    assert sheen(shaded) == 0
    assert sheen(shaded + noise) == 0
    assert sheen(shaded + mirrored + noise) == pytest.approx(mirrored.std(ddof=1), rel=0.2)
    assert sheen(np.full(3, 0.04) + mirrored + noise) == 0  # a grey piece in brighter light looks the same
    assert sheen(brown[None]) == 0
