"""Time and memory of measuring, as ratios to Pillow's own full decode of the same file in the same run."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import textwrap
from collections.abc import Callable
from functools import cache

import numpy as np
import pytest
from PIL import Image

from colormatch.photo import Chart24, measure_photo
from tests.benchmarks.stopwatch import seconds
from tests.worlds.camera import Facts, photograph
from tests.worlds.scenes import cement_spectra, studio_scene

pytestmark = pytest.mark.speed  # takes times: runs alone
SIZES = {12: (4000, 3000), 48: (8000, 6000)}


@cache
def large_photograph(megapixels: int, grain: int = 7) -> tuple[bytes, Facts, float]:
    """A JPEG of that size with the sensor noise of a phone (about 4 MB at 12 megapixels), and its scale."""
    small, facts = photograph(studio_scene(cement_spectra(3, 3), size=(2000, 1500), turn=12, tilt=10), seed=1)
    width, height = SIZES[megapixels]
    grown = Image.open(io.BytesIO(small)).resize((width, height), Image.Resampling.BICUBIC)
    values = np.asarray(grown)
    rng = np.random.default_rng(1)
    noise = rng.integers(-grain, grain + 1, (height // 4, width, 3), dtype=np.int8)
    rows = [
        np.clip(values[i : i + len(noise)].astype(np.int16) + noise, 0, 255).astype(np.uint8)
        for i in range(0, height, len(noise))
    ]
    buffer = io.BytesIO()
    Image.fromarray(np.concatenate(rows)).save(buffer, "JPEG", quality=95)
    return buffer.getvalue(), facts, width / 2000


@pytest.mark.slow
@pytest.mark.parametrize(("megapixels", "grain", "guard"), [(12, 7, 2.0), (48, 7, 1.5), (12, 0, 2.5)])
def test_time_is_a_small_multiple_of_the_decode(megapixels: int, grain: int, guard: float) -> None:
    """At most 2.0, without noise (a small file, quickly decoded) 2.5; 48 megapixels are never decoded in full."""
    data, facts, scale = large_photograph(megapixels, grain)
    region = tuple(scale * v for v in facts.regions["tile 1"])
    corners = np.asarray(facts.chart_corners) * scale

    def decode() -> None:
        Image.open(io.BytesIO(data)).load()

    measure_photo(data, region=region)  # tables are read once
    ratios = []
    for _ in range(3):  # the two side by side, so that a busy machine slows both
        decoding = seconds(decode, 3)
        finding = seconds(lambda: measure_photo(data, region=region), 3)
        marked = seconds(lambda: measure_photo(data, region=region, reference=Chart24(corners)), 3)
        ratios.append((finding / decoding, marked / decoding))
    found, given = np.min(ratios, axis=0)
    print(
        f"\n{megapixels} megapixels ({len(data) / 1e6:.1f} MB): Pillow's decode {1000 * decoding:.0f} ms; "
        f"measured in {found:.2f} x with the chart found, {given:.2f} x with its corners given"
    )
    assert max(found, given) <= guard


PEAK = """
    import sys
    from colormatch.photo import measure_photo
    def peak():
        return next(int(line.split()[1]) for line in open("/proc/self/status") if line.startswith("VmHWM"))
    path, box = sys.argv[1], [float(v) for v in sys.argv[2:6]]
    measure_photo(sys.argv[6], region=[float(v) for v in sys.argv[7:11]])  # everything imported and read
    before = peak()
    measure_photo(path, region=box)
    print(peak() - before)
"""


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="peak memory is read as Linux reports it")
@pytest.mark.parametrize("whole", [False, True])
def test_extra_memory_is_a_part_of_the_picture(tmp_path_factory: pytest.TempPathFactory, whole: bool) -> None:
    """Peak above an interpreter that has measured a small picture; a region on one tile, or on the whole frame."""
    data, facts, scale = large_photograph(48)
    folder = tmp_path_factory.mktemp("large")
    (folder / "large.jpg").write_bytes(data)
    small, small_facts = photograph(studio_scene(cement_spectra(3, 1), size=(800, 600)), seed=2)
    (folder / "small.jpg").write_bytes(small)
    width, height = SIZES[48]
    box = (0, 0, width, height) if whole else tuple(scale * v for v in facts.regions["tile 1"])
    arguments = [str(folder / "large.jpg"), *map(str, box), str(folder / "small.jpg")]
    arguments += map(str, small_facts.regions["tile 1"])
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(PEAK), *arguments],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"OMP_NUM_THREADS": "1"},
    )
    ratio = int(done.stdout) * 1024 / (width * height * 3)
    print(f"\nextra peak memory at 48 megapixels: {ratio:.2f} x the decoded picture (whole frame: {whole})")
    assert ratio <= 0.3


def test_bench_measure_photo(benchmark: Callable[..., object]) -> None:
    """For `pytest --benchmark-enable`: a 12-megapixel photograph with the chart found."""
    data, facts, scale = large_photograph(12)
    region = tuple(scale * v for v in facts.regions["tile 1"])
    benchmark(measure_photo, data, region=region)


def test_bench_decode_alone(benchmark: Callable[..., object]) -> None:
    """The baseline of the same file."""
    data, _, _ = large_photograph(12)
    benchmark(lambda: Image.open(io.BytesIO(data)).load())
