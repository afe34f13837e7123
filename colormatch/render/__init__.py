"""Pictures: drawn pieces, chips, recipe cards, sheets. The same input gives the same pixels."""

from .cards import recipe_card
from .chips import shade_chips, state_strip
from .contact_sheet import contact_sheet
from .likely_range import likely_ends
from .piece import piece_picture
from .proof import proof_picture
from .reach import reach_picture
from .tile_board import board_pdf
from .tile_sheet import tile_sheet_html

__all__ = [
    "piece_picture",
    "contact_sheet",
    "reach_picture",
    "state_strip",
    "shade_chips",
    "recipe_card",
    "proof_picture",
    "board_pdf",
    "likely_ends",
    "tile_sheet_html",
]
