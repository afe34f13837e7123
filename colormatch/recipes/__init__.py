"""From a wanted shade to what to weigh.

To be read as: problem, starts, descent, solver, rounding, judging, choice, recipe, finding, reach, next batch.
"""

from .finding import find_recipes
from .limits import Limits
from .next_batch import correct_next_batch
from .reach import Reach, ReachReport, ReachSlice, Remedy, explain_reach, reach
from .recipe import PreBlend, Recipe

__all__ = [
    "Limits",
    "PreBlend",
    "Reach",
    "ReachReport",
    "ReachSlice",
    "Recipe",
    "Remedy",
    "correct_next_batch",
    "explain_reach",
    "find_recipes",
    "reach",
]
