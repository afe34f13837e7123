"""From a wanted shade to what to weigh: every set of pigments, rounded to the scale, judged, chosen."""

from .explaining import ReachReport, Remedy, explain_reach
from .finding import find_recipes
from .limits import Limits
from .mending import mend_next_batch
from .reach_picture import reach_picture
from .reaching import Reach, ReachSlice, reach
from .recipe import PreBlend, Recipe

__all__ = [
    "Limits",
    "PreBlend",
    "Reach",
    "ReachReport",
    "ReachSlice",
    "Recipe",
    "Remedy",
    "explain_reach",
    "find_recipes",
    "mend_next_batch",
    "reach",
    "reach_picture",
]
