"""Pigment colour matching for cast cement: photographs to shades, shades to grams, wet to dry.

The public names below are loaded on first use, so that `import colormatch` stays quick.
"""

from importlib import import_module
from typing import Any

__version__ = "0.1.0"

_HOME = {
    "ColormatchError": "errors",
    "Shade": "shade",
    "Palette": "palette",
    "starter_palette": "starter",
    "Tile": "learning",
    "learn": "learning",
    "dry_from_wet": "learning",
    "lot_drift": "learning",
    "tint_ladder": "learning",
    "next_tiles": "advice",
    "starter_plan": "advice",
    "measure_photo": "photo",
    "Chart24": "photo",
    "GreyCard": "photo",
    "KnownSwatches": "photo",
    "measure_regions": "photo",
    "tile_sheet_regions": "photo",
    "proof_picture": "photo",
    "CameraProfile": "photo",
    "combine_profiles": "photo",
    "Limits": "recipes",
    "Recipe": "recipes",
    "find_recipes": "recipes",
    "explain_reach": "recipes",
    "reach": "recipes",
    "mend_next_batch": "recipes",
    "delta_e_2000": "difference",
    "open_library": "library",
}

__all__ = ["__version__", *_HOME]


def __getattr__(name: str) -> Any:
    home = _HOME.get(name)
    if home is None:
        raise AttributeError(f"module 'colormatch' has no attribute {name!r}")
    value = getattr(import_module(f".{home}", __name__), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
