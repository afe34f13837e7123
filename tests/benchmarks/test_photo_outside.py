"""How near photographs of other kinds than the usual come, and whether the stated regions still hold.

What was chosen in view of them: see tests/worlds/outside_scenes.py. 3 cameras x 6 lamps a condition, nine pieces a
frame; every row is printed. The chart is found by the program itself.
"""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.difference import delta_e_2000
from colormatch.photo import Chart24, load_picture
from colormatch.photo.measure import measure_picture
from tests.benchmarks.photo_study import PIECES, Lights, Outcome, lights_of_frames, pieces, standardised
from tests.worlds.outside_scenes import CONDITIONS, outside_photograph

pytestmark = pytest.mark.slow


def measured(condition: str, lights: Lights) -> Outcome:
    errors, distances, where = [], [], []
    first = 5000 + 100 * list(CONDITIONS).index(condition)
    for number, (camera, lamp) in lights:
        rng = np.random.default_rng(first + number)
        pose = {} if "edge" in condition else {"turn": rng.uniform(0, 360), "tilt": rng.uniform(0, 20)}
        data, facts = outside_photograph(condition, pieces(first + number), camera, lamp, first + number, **pose)
        names = [f"tile {i + 1}" for i in range(PIECES)]
        photos = measure_picture(
            load_picture(data), regions=[facts.regions[name] for name in names], reference=Chart24()
        )
        truth = np.array([facts.lab[name] for name in names])
        errors += list(delta_e_2000(np.array([p.shade.lab for p in photos]), truth))
        distances += [standardised(p, t) for p, t in zip(photos, truth, strict=True)]
        where += [(camera, lamp)] * PIECES
    return Outcome(np.array(errors), np.array(distances), tuple(where))


@pytest.mark.parametrize("condition", CONDITIONS)
@lights_of_frames
def test_outside_conditions(condition: str, lights: Lights) -> None:
    """Mean within 1.5 dE00; the 90 % regions hold at least 85 %."""
    result = measured(condition, lights)
    print(f"\n{result.row(condition)}\n    {result.by_camera()}")
    assert result.error.mean() <= 1.5
    assert (result.distance < 6.251).mean() >= 0.85
