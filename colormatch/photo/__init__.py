"""A photograph to shades with an honest sd: load, find the references, correct, measure."""

from .board import tiles_for_board
from .camera_profile import CameraProfile, combine_profiles
from .load import load_picture, picture_facts, preview_image
from .measure import (
    Photo,
    PhotoCheck,
    ReferencePatch,
    check_photo,
    measure_board,
    measure_photo,
    measure_picture,
    measure_regions,
)
from .picture import Picture, PictureFacts
from .population import Surface
from .references import Chart24, GreyCard, KnownSwatches, Reference, TileBoard
from .regions import from_fractions, tile_sheet_regions, to_fractions

__all__ = [
    "measure_photo",
    "measure_regions",
    "measure_picture",
    "measure_board",
    "check_photo",
    "PhotoCheck",
    "Photo",
    "ReferencePatch",
    "Chart24",
    "GreyCard",
    "KnownSwatches",
    "TileBoard",
    "Reference",
    "Surface",
    "tiles_for_board",
    "CameraProfile",
    "combine_profiles",
    "load_picture",
    "picture_facts",
    "preview_image",
    "Picture",
    "PictureFacts",
    "tile_sheet_regions",
    "from_fractions",
    "to_fractions",
]
