"""From a wanted shade to what to weigh.

To be read as: problem, starts, descent, solver, far, rounding, judging, choice, recipe, finding, reach, next
batch.
"""

from .finding import Row, find_recipes, recipe_table, table_as_csv
from .limits import Limits
from .next_batch import correct_next_batch
from .reach import Purchase, Reach, ReachReport, ReachSlice, Remedy, explain_reach, reach, what_to_buy
from .recipe import PreBlend, Recipe

__all__ = [
    "Limits",
    "PreBlend",
    "Purchase",
    "Reach",
    "ReachReport",
    "ReachSlice",
    "Recipe",
    "Remedy",
    "Row",
    "correct_next_batch",
    "explain_reach",
    "find_recipes",
    "reach",
    "recipe_table",
    "table_as_csv",
    "what_to_buy",
]
