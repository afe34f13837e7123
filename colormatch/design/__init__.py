"""Two-tone designs: whether the tones read as two, and what goes with a shade."""

from ..saying import READS_AS_ONE, READS_AS_TWO
from .contrasts import Contrast, StateContrast, contrast
from .pairing import RELATIONS, LibraryShade, Partner, partners, relation

__all__ = [
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
