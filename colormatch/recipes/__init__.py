"""From a wanted shade to what to weigh: every set of pigments, rounded to the scale, judged, chosen."""

from .finding import find_recipes
from .limits import Limits
from .recipe import PreBlend, Recipe

__all__ = ["Limits", "PreBlend", "Recipe", "find_recipes"]
