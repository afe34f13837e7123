"""Real photographs of 24-patch charts, outside the project: those in the wheel of colour-checker-detection.

Its example notebooks show eight scenes (a desk chair, a flowered cloth, a wall; two lights each) as plots.
They are not ours to keep, so they are read from the installed wheel; without it the tests are skipped.
Their charts are of other makes and ages than the table of ISO 17321-1 that they are compared with, so an
error of 1 to 2 dE00 per patch is what can be expected.
"""

from __future__ import annotations

import base64
import importlib.util
import io
import json
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from colormatch.errors import ReferenceNotFound
from colormatch.photo import load_picture, measure_photo
from colormatch.photo.find_chart import find_chart

WHEEL = importlib.util.find_spec("colour_checker_detection")
pytestmark = [
    pytest.mark.published(
        source="photographs in the wheel of colour-checker-detection, charts of other makes and ages",
        covers=["measure_photo", "Chart24"],
    ),
    pytest.mark.skipif(WHEEL is None, reason="colour-checker-detection, whose photographs are used, is not installed"),
]
# notebook, cell, place among its pictures -> corners by eye (pixels, clockwise from dark skin), and the
# largest mean left-out dE00 seen with this program, rounded up (a guard against getting worse).
SCENES = {
    ("segmentation", 4, 0): ([(539, 464), (542, 213), (709, 214), (708, 466)], 1.7),
    ("segmentation", 4, 1): ([(280, 170), (767, 185), (753, 500), (273, 484)], 2.0),
    ("segmentation", 8, 2): ([(550, 464), (553, 213), (720, 214), (719, 466)], 1.8),
    ("segmentation", 8, 5): ([(101, 170), (588, 185), (575, 500), (94, 484)], 2.0),
    ("inference", 4, 0): ([(297, 282), (631, 281), (651, 483), (281, 488)], 2.2),
    ("inference", 4, 1): ([(496, 267), (871, 282), (858, 534), (484, 504)], 2.0),
    ("inference", 8, 2): ([(296, 282), (631, 281), (650, 483), (281, 489)], 1.9),
    ("inference", 8, 5): ([(496, 267), (872, 282), (857, 534), (484, 504)], 1.8),
}


@cache
def notebook_pictures(name: str, cell: int) -> tuple[bytes, ...]:
    assert WHEEL is not None
    assert WHEEL.origin is not None
    file = Path(WHEEL.origin).parent / "examples" / f"examples_detection_{name}.ipynb"
    outputs = json.loads(file.read_text(encoding="utf-8"))["cells"][cell]["outputs"]
    plots = [o["data"]["image/png"] for o in outputs if "image/png" in o.get("data", {})]
    return tuple(base64.b64decode("".join(p)) for p in plots)


@cache
def photograph(scene: tuple[str, int, int]) -> bytes:
    """The plot without its white margin, as PNG."""
    name, cell, place = scene
    values = np.asarray(Image.open(io.BytesIO(notebook_pictures(name, cell)[place])).convert("RGBA"))
    shown = (values[..., 3] == 255) & (values[..., :3].min(axis=-1) < 250)
    rows, columns = np.nonzero(shown.mean(axis=1) > 0.5)[0], np.nonzero(shown.mean(axis=0) > 0.5)[0]
    buffer = io.BytesIO()
    Image.fromarray(values[rows[0] + 2 : rows[-1] - 1, columns[0] + 2 : columns[-1] - 1, :3]).save(buffer, "PNG")
    return buffer.getvalue()


@pytest.mark.slow
@pytest.mark.parametrize("scene", SCENES, ids=lambda s: f"{s[0]} {s[1]}.{s[2]}")
def test_the_chart_is_found_where_it_is(scene: tuple[str, int, int]) -> None:
    corners, _ = SCENES[scene]
    found = find_chart(load_picture(photograph(scene)))
    patch = np.linalg.norm(np.subtract(corners[1], corners[0])) / 6.7
    assert np.linalg.norm(found - np.array(corners), axis=1).max() < 0.2 * patch


@pytest.mark.slow
@pytest.mark.parametrize("scene", SCENES, ids=lambda s: f"{s[0]} {s[1]}.{s[2]}")
def test_patches_agree_with_each_other(scene: tuple[str, int, int]) -> None:
    """Each patch predicted from the others; patches clipped in the plot are named and not used."""
    data = photograph(scene)
    width, height = load_picture(data).size
    photo = measure_photo(data, region=(0.05 * width, 0.05 * height, 0.1 * width, 0.12 * height))
    errors = {reference.name: reference.left_out for reference in photo.references}
    stated = ", ".join(f"{name} {error:.1f}" for name, error in errors.items())
    assert len(errors) >= 16, stated
    assert photo.reference_error < SCENES[scene][1], stated
    assert max(errors.values()) < 6.5, stated


@pytest.mark.slow
def test_no_chart_is_seen_where_there_is_none() -> None:
    """The same scenes with the chart painted over."""
    for scene, (corners, _) in SCENES.items():
        values = np.asarray(Image.open(io.BytesIO(photograph(scene)))).copy()
        low, high = np.min(corners, axis=0) - 25, np.max(corners, axis=0) + 25
        values[low[1] : high[1], low[0] : high[0]] = (120, 110, 100)
        buffer = io.BytesIO()
        Image.fromarray(values).save(buffer, "PNG")
        with pytest.raises(ReferenceNotFound, match="Mark its four corners by hand"):
            find_chart(load_picture(buffer.getvalue()))
