"""What a chart taught about a camera, kept and used again."""

from __future__ import annotations

import json
from functools import cache

import numpy as np
import pytest

from colormatch.difference import delta_e_2000
from colormatch.errors import PhotoError
from colormatch.photo import CameraProfile, GreyCard, combine_profiles, measure_photo, measure_regions
from colormatch.photo.camera_model import PLACES
from colormatch.photo.fit import _TAILS
from tests.worlds.camera import photograph
from tests.worlds.scenes import cement_spectra, studio_scene


@cache
def profile(camera: str = "camera-a", lamp: str = "window", seed: int = 1) -> CameraProfile:
    data, facts = photograph(studio_scene(cement_spectra(1, 1), size=(800, 600)), camera, lamp, seed)
    learned = measure_photo(data, region=facts.regions["tile 1"]).profile
    assert learned is not None
    return learned


def test_there_and_back_through_plain_text() -> None:
    made = profile()
    back = CameraProfile.from_dict(json.loads(json.dumps(made.to_dict())))
    assert back.model == made.model
    assert back.learned_on == "2026:06:01 10:00:00"
    assert np.allclose(back.mean, made.mean)
    assert np.allclose(back.covariance, made.covariance)


@pytest.mark.parametrize("change", [{"format": 9}, {"mean": [1.0]}, {"covariance": "x"}, {"charts": "many"}])
def test_a_record_that_does_not_fit_is_refused(change: dict[str, object]) -> None:
    with pytest.raises(PhotoError, match="camera profile"):
        CameraProfile.from_dict(profile().to_dict() | change)


def test_profiles_of_one_camera_combine_and_of_two_do_not() -> None:
    first, second = profile(seed=1), profile(seed=2, lamp="tungsten")
    both = combine_profiles([first, second])
    assert both.charts == 2
    assert np.allclose(both.mean, (first.mean + second.mean) / 2)
    assert np.trace(both.covariance) < np.trace(first.covariance)
    with pytest.raises(PhotoError, match="different cameras"):
        combine_profiles([first, profile("camera-c")])
    with pytest.raises(PhotoError, match="no camera profile"):
        combine_profiles([])


def test_an_earlier_chart_serves_at_another_white_balance() -> None:
    """Even where the sensor's curves overlap much, so that its matrix turns a change of balance into one of hue."""
    scene = studio_scene(cement_spectra(4, 6), size=(800, 600))
    earlier, _ = photograph(scene, "camera-b", "window", 0)
    data, facts = photograph(scene, "camera-b", "window", 3)
    learned = measure_photo(earlier, region=facts.regions["tile 1"]).profile
    card, tiles = GreyCard(facts.regions["grey card"]), [f"tile {i}" for i in range(1, 7)]
    photos = measure_regions(data, regions=[facts.regions[t] for t in tiles], reference=card, profile=learned)
    off = [delta_e_2000(p.shade.lab, facts.lab[t]) for p, t in zip(photos, tiles, strict=True)]
    assert np.mean(off) < 2.1


def test_another_cameras_profile_is_warned_about() -> None:
    data, facts = photograph(studio_scene(cement_spectra(1, 1), size=(800, 600)), "camera-c", "window", 1)
    photo = measure_photo(data, region=facts.regions["tile 1"], profile=profile())
    assert any("camera profile is of" in note for note in photo.warnings)


def test_the_prior_of_a_profile_is_wider_than_the_profile() -> None:
    prior = profile().as_prior()
    assert np.linalg.eigvalsh(prior.covariance).min() > 0
    for name in _TAILS:  # what has a heavy tail is known apart from all else
        apart = prior.covariance[PLACES[name]].copy()
        apart[:, PLACES[name]] = 0
        assert not apart.any()
