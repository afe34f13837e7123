"""A whole shade card at once: the same recipes as one at a time, progress, one table out."""

import csv
import io

import numpy as np
import pytest

import colormatch as cm
from colormatch.recipes.many import recipe_table, table_as_csv

from .palettes import targets_in_and_out_of_reach


@pytest.mark.slow
def test_a_card_of_shades_with_progress_and_one_table(palette):
    targets = targets_in_and_out_of_reach(palette, "white-cement", 120)
    shades = {f"no. {i}": cm.Shade(lab, sd=0.5) for i, lab in enumerate(targets)}
    seen = []
    rows = recipe_table(palette, shades, progress=lambda done, of: seen.append((done, of)))
    assert [row.name for row in rows] == list(shades)
    assert seen == [(50, 120), (100, 120), (120, 120)]
    for row in rows[::25]:
        alone = cm.find_recipes(palette, row.wanted, count=1)[0]
        assert row.recipe.delta_e == pytest.approx(alone.delta_e, abs=0.02)

    table = list(csv.DictReader(io.StringIO(table_as_csv(rows))))
    assert len(table) == 120
    for line, row in zip(table, rows, strict=True):
        assert line["shade"] == row.name
        grams = {name[:-2]: float(g) for name, g in line.items() if name.endswith(" g") and g and name != "cement g"}
        assert grams == pytest.approx(dict(row.recipe.grams))
        assert float(line["dE00 expected"]) == pytest.approx(row.recipe.expected_delta_e, abs=0.006)


@pytest.mark.slow
def test_a_thousand_shades(palette):
    rng = np.random.default_rng(0)
    labs = np.column_stack([rng.uniform(30, 85, 1000), *rng.uniform(-15, 25, (2, 1000))])
    rows = recipe_table(palette, {str(i): cm.Shade(lab) for i, lab in enumerate(labs)})
    assert len(rows) == 1000
    assert all(row.recipe.total_load <= 0.05 + 1e-9 for row in rows)


def test_no_shades_no_rows(palette):
    assert recipe_table(palette, {}) == []
