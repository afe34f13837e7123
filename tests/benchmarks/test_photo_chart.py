"""How often the chart is found in simulated frames, and that it is never laid wrongly."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.errors import ReferenceNotFound
from colormatch.photo import load_picture
from colormatch.photo.chart import smallest_patch_side
from colormatch.photo.find_chart import find_chart
from tests.benchmarks.photo_study import any_view
from tests.worlds.camera import CAMERAS, LAMPS, Scene, photograph
from tests.worlds.scenes import chart24, chart_corners


def off(found: np.ndarray, true: np.ndarray) -> float:
    """Largest distance of a corner from where it is, in patches."""
    return float(np.linalg.norm(found - true, axis=1).max() / smallest_patch_side(true))


@pytest.mark.slow
@pytest.mark.parametrize("frames", [40, pytest.param(120, marks=pytest.mark.measure)])
def test_found_in_simulated_frames(frames: int) -> None:
    """At least 95 % of the frames (any turn, tilt to 30 degrees, a third in part shadow); none laid wrongly."""
    found, wrong = 0, []
    for seed in range(frames):
        rng, corners, shadow = any_view(seed, chart_corners, 240)
        dim = rng.uniform(0.2, 0.5)
        scene = Scene((1000, 750), chart24(corners), chart_corners=corners, shadow=shadow, shadow_depth=dim)
        data, _ = photograph(scene, CAMERAS[seed % 3], list(LAMPS)[seed % 6], seed, blur=rng.uniform(0.6, 1.5))
        try:
            distance = off(find_chart(load_picture(data)), corners)
        except ReferenceNotFound:
            continue
        found += 1
        if distance > 0.2:
            wrong.append((seed, distance))
    print(f"chart found in {found} of {frames} frames, laid wrongly in {len(wrong)}")
    assert found >= 0.95 * frames
    assert not wrong
