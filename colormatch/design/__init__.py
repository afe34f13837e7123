"""Two-tone designs: what goes in each bowl, whether the tones read as two, and what goes with a shade."""

from .contrasts import READS_AS_ONE, READS_AS_TWO, Contrast, StateContrast, contrast
from .designs import FORMS, PATTERNS, Design, Mould, Tone
from .pairing import RELATIONS, LibraryShade, Partner, partners, relation
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
    "READS_AS_ONE",
    "READS_AS_TWO",
    "Contrast",
    "StateContrast",
    "contrast",
    "RELATIONS",
    "LibraryShade",
    "Partner",
    "partners",
    "relation",
]
