"""Learning from test tiles: photographs of what was cast, to a palette that predicts what will come."""

from .demould import dry_from_wet, random_recipes, recipes_near
from .ladder import Drift, TintLadder, lot_drift, tint_ladder, tint_ladders
from .learn import learn, pigment_trust, replicate_sd
from .reasons import Suspect
from .report import Report, TileResult, Trust
from .tables import read_tiles
from .tile import Tile, describe
from .uncertainty import trust_in_words

__all__ = [
    "Tile",
    "read_tiles",
    "learn",
    "Report",
    "TileResult",
    "Suspect",
    "Trust",
    "dry_from_wet",
    "lot_drift",
    "Drift",
    "tint_ladder",
    "tint_ladders",
    "TintLadder",
    "random_recipes",
    "recipes_near",
    "describe",
    "trust_in_words",
    "pigment_trust",
    "replicate_sd",
]
