"""Many shades at once, a whole shade card: recipes for each, with progress, as one table."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from ..palette import Palette
from ..shade import Shade
from .finding import find_recipes
from .limits import Limits
from .recipe import Recipe

_AT_ONCE = 50  # shades between two reports of progress, a few tenths of a second


@dataclass(frozen=True, slots=True)
class Row:
    """One wanted shade: its name, the shade, and the best recipe."""

    name: str
    wanted: Shade
    recipe: Recipe

    @property
    def out_of_reach(self) -> str:
        """How far off the nearest recipe stays, in a sentence; empty within reach."""
        return "" if self.recipe.in_reach else f"Out of reach by {self.recipe.delta_e:.1f} dE00."


def recipe_table(
    palette: Palette,
    shades: Mapping[str, Shade],
    base: str = "white-cement",
    limits: Limits | None = None,
    *,
    state: str = "dry",
    progress: Callable[[int, int], None] | None = None,
) -> list[Row]:
    """The best recipe for each of the shades, in their order; errors as `find_recipes`.

    progress: called with how many are done, and of how many.
    """
    names, wanted, rows = list(shades), list(shades.values()), list[Row]()
    for start in range(0, len(names), _AT_ONCE):
        block = slice(start, start + _AT_ONCE)
        found = find_recipes(palette, wanted[block], base, limits, state=state, count=1)
        pairs = zip(names[block], wanted[block], found, strict=True)
        rows += [Row(name, shade, recipes[0]) for name, shade, recipes in pairs]
        if progress:
            progress(len(rows), len(names))
    return rows


def table_as_csv(rows: list[Row]) -> str:
    """One line a shade: wanted L*, a*, b*, how far off to expect, then grams of each pigment that any of them needs.

    The distance by the model is left out where it says nothing, see `Recipe.drowned`.
    """
    pigments = list(dict.fromkeys(name for row in rows for name in row.recipe.grams))
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    heading = ["shade", "L*", "a*", "b*", "dE00 by the model", "dE00 expected", "dE00 likely under", "cement g"]
    table.writerow([*heading, *(f"{name} g" for name in pigments), "verdict"])
    for row in rows:
        r, lab = row.recipe, [f"{x:.2f}" for x in row.wanted.lab]
        off = ["" if r.drowned else f"{r.delta_e:.2f}", f"{r.expected_delta_e:.2f}", f"{r.likely_delta_e:.2f}"]
        grams = [f"{r.grams[name]:g}" if name in r.grams else "" for name in pigments]
        table.writerow([row.name, *lab, *off, f"{r.cement_g:g}", *grams, r.verdict])
    return out.getvalue()
