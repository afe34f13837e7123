"""Pictures: drawn pieces, chips, recipe cards, sheets. The same input gives the same pixels."""

from .cards import recipe_card
from .contact_sheet import contact_sheet
from .likely_range import likely_ends
from .piece import piece_picture
from .proof import proof_picture
from .tile_board import board_pdf
from .tile_sheet import tile_sheet_html

__all__ = [
    "piece_picture",
    "contact_sheet",
    "recipe_card",
    "proof_picture",
    "board_pdf",
    "likely_ends",
    "tile_sheet_html",
]
