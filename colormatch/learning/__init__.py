"""Learning from test tiles: photographs of what was cast, to a palette that foretells what will be."""

from .doubt import expected_delta_e, trust_in_words
from .learn import learn, pigment_trust, replicate_sd
from .observe import weighing_covariance
from .reasons import Suspect
from .report import Report, TileResult, Trust
from .tile import Tile, describe

__all__ = [
    "Tile",
    "learn",
    "Report",
    "TileResult",
    "Suspect",
    "Trust",
    "describe",
    "expected_delta_e",
    "trust_in_words",
    "pigment_trust",
    "replicate_sd",
    "weighing_covariance",
]
