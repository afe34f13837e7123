"""Two-tone designs: what goes in each bowl, whether the tones read as two, and what goes with a shade."""

from .contrast import Contrast, StateContrast, contrast
from .designs import FORMS, PATTERNS, Design, Mould, Tone
from .weights import Bowl, bowl_weights, tone_cap, wet_density

__all__ = [
    "PATTERNS",
    "FORMS",
    "Design",
    "Mould",
    "Tone",
    "Bowl",
    "bowl_weights",
    "tone_cap",
    "wet_density",
    "Contrast",
    "StateContrast",
    "contrast",
]
