"""What one stop of exposure and a quarter turn change: 3 cameras x 6 lamps, by quality of the JPEG and its noise.

With hardly any noise every pixel of an even patch is rounded alike when the file is written, which nothing can undo;
so may a dark picture: what such rows reach is what the file still holds.
"""

from __future__ import annotations

import io
from functools import cache

import numpy as np
import pytest
from PIL import Image

from colormatch.difference import delta_e_2000
from colormatch.photo import Chart24, measure_regions
from tests.benchmarks.photo_study import Lights, lights_of_frames
from tests.worlds.camera import Facts, photograph
from tests.worlds.scenes import cement_spectra, studio_scene

pytestmark = pytest.mark.slow
NAMES = [f"tile {i}" for i in range(1, 7)]


def shades(data: bytes, facts: Facts) -> np.ndarray:
    regions = [facts.regions[name] for name in NAMES]
    return np.array(
        [p.shade.lab for p in measure_regions(data, regions=regions, reference=Chart24(facts.chart_corners))]
    )


@cache
def seen(lights: Lights, stops: float, quality: int, noise: float = 0.01) -> np.ndarray:
    """CIELAB (n, 3) of every piece at so many stops from exposure 0.45."""
    scene = studio_scene(cement_spectra(8, 6), turn=10)
    shot = {"exposure": 0.45, "exposure_stops": stops, "quality": quality, "noise": noise}
    return np.vstack([shades(*photograph(scene, c, lamp, 4, **shot)) for _, (c, lamp) in lights])


def moved(lights: Lights, stops: float, **shot: float) -> np.ndarray:
    """dE00 of every piece between exposure 0.45 and so many stops from it."""
    return delta_e_2000(seen(lights, 0.0, **shot), seen(lights, stops, **shot))


@pytest.mark.parametrize(
    ("stops", "shot", "most"),
    [
        (1.0, {"quality": 96}, 0.5),
        (-1.0, {"quality": 96}, 0.5),
        (1.0, {"quality": 92}, 0.5),
        (-1.0, {"quality": 92}, 0.5),
        (1.0, {"quality": 85}, 0.5),
        (1.0, {"quality": 92, "noise": 0.003}, 0.6),
    ],
)
@lights_of_frames
def test_one_stop(lights: Lights, stops: float, shot: dict[str, float], most: float) -> None:
    change = moved(lights, stops, **shot)
    stated = f"{stops:+.0f} stop, {shot}: mean {change.mean():.2f}, p95 {np.percentile(change, 95):.2f} dE00"
    print("\n" + stated)
    assert change.mean() < most, stated


@lights_of_frames
def test_a_quarter_turn(lights: Lights) -> None:
    """By EXIF, and of the decoded pixels kept as PNG."""
    by_note, by_pixels = [], []
    scene = studio_scene(cement_spectra(3, 6), turn=20, tilt=15)
    for _, (camera, lamp) in lights:
        data, facts = photograph(scene, camera, lamp, 1)
        first = shades(data, facts)
        for orientation in (3, 6, 8):
            turned, _ = photograph(scene, camera, lamp, 1, orientation=orientation)
            by_note += list(delta_e_2000(first, shades(turned, facts)))
        picture = Image.open(io.BytesIO(data))
        boxes = [facts.regions[name] for name in NAMES]
        width = facts.size[0]
        around = [(y0, width - x1, y1, width - x0) for x0, y0, x1, y1 in boxes]
        kept = []
        for turned_picture, regions in ((picture, boxes), (picture.transpose(Image.Transpose.ROTATE_90), around)):
            buffer = io.BytesIO()
            turned_picture.save(buffer, "PNG")
            kept.append([p.shade.lab for p in measure_regions(buffer.getvalue(), regions=regions)])
        by_pixels += list(delta_e_2000(*np.array(kept)))
    print(f"\nquarter turn: by EXIF mean {np.mean(by_note):.2f}, largest {np.max(by_note):.2f}; ", end="")
    print(f"of the pixels mean {np.mean(by_pixels):.2f}, largest {np.max(by_pixels):.2f} dE00")
    assert np.max(by_note) < 0.5
    assert np.max(by_pixels) < 0.5
