"""Nearest in colour among 10,000 swatches on SQLite, against two full scans of the same library.

Run with: python -m pytest -m speed tests/benchmarks/test_library_near.py -s
"""

import time

import numpy as np
import pytest

from colormatch import delta_e_2000
from colormatch.library import ShadeRecord, Swatch, find_near, finding, open_library

COUNT = 10_000
LIMIT = 20


@pytest.fixture(scope="module")
def large(tmp_path_factory):
    """10,000 swatches with a dry and a wet shade each, of colours like those of coloured cement."""
    rng = np.random.default_rng(7)
    dry = np.column_stack([rng.uniform(20, 90, COUNT), rng.normal(5, 12, COUNT), rng.normal(10, 14, COUNT)])
    pots = [Swatch(uid=f"p{i:05}", name=f"pot {i}", tags=[f"shelf {i % 20}"]) for i in range(COUNT)]
    shades = [
        ShadeRecord(
            uid=f"s{i:05}-{state}", swatch_uid=f"p{i:05}", state=state, lab=(float(x[0] - darker), *map(float, x[1:]))
        )
        for i, x in enumerate(dry)
        for state, darker in (("dry", 0), ("wet", 12))
    ]
    with open_library(tmp_path_factory.mktemp("large")) as library:
        library.save_all([*pots, *shades])
        yield library


def full_scan(library, lab):
    """What anyone would write first: read every shade and swatch, compute every difference, sort."""
    swatches = {swatch.uid: swatch for swatch in library.list(Swatch)}
    shades = library.list(ShadeRecord, state="dry")
    differences = delta_e_2000(np.array([shade.lab for shade in shades]), lab)
    return [(swatches[shades[i].swatch_uid], differences[i]) for i in np.argsort(differences, kind="stable")[:LIMIT]]


def lean_scan(library, lab):
    """The same without reading records: the bare colours of all, then the records of the nearest."""
    with library.database.reading() as connection:
        rows = finding._colours(connection, "dry", finding._conditions({}))
        return finding._near(connection, finding._nearest(rows, np.array(lab), LIMIT))


def seconds(function, *arguments):
    started = time.perf_counter()
    answer = function(*arguments)
    return time.perf_counter() - started, answer


# A common colour, one at the edge of what there is, and one far from everything.
COLOURS = [(50.0, 8.0, 12.0), (22.0, -20.0, 30.0), (95.0, 80.0, -60.0)]


@pytest.mark.parametrize("lab", COLOURS, ids=str)
def test_near(benchmark, large, lab):
    full_s, expected = seconds(full_scan, large, lab)
    lean_s, _ = seconds(lean_scan, large, lab)
    found = benchmark.pedantic(find_near, args=(large, lab), kwargs={"limit": LIMIT}, rounds=20, warmup_rounds=2)
    assert [near.delta_e for near in found] == pytest.approx([difference for _, difference in expected])
    if benchmark.stats:
        median_s = benchmark.stats.stats.median
        print(
            f"\n{COUNT} swatches, nearest {LIMIT} to {lab}: {1000 * median_s:.1f} ms; "
            f"plain full scan {1000 * full_s:.0f} ms, ratio {full_s / median_s:.1f}; "
            f"scan of the bare colours {1000 * lean_s:.0f} ms, ratio {lean_s / median_s:.1f}"
        )
