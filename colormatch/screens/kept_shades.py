"""The dry shade that is kept of a thing, so that a place may show it without working out the palette."""

from __future__ import annotations

from colormatch.library import BatchRecord, Piece, RecipeRecord, ShadeRecord, Swatch
from colormatch.screens.studios import library

Lab = tuple[float, float, float]


def lab_of_swatch(uid: str) -> Lab | None:
    """The dry shade kept last."""
    kept = library().list(ShadeRecord, swatch_uid=uid, state="dry")
    return kept[-1].lab if kept else None


def lab_of_recipe(uid: str | None) -> Lab | None:
    """Its swatch's dry shade, else the one wanted."""
    if uid is None:
        return None
    for swatch in library().list(Swatch, recipe_uid=uid):
        if (lab := lab_of_swatch(swatch.uid)) is not None:
            return lab
    recipe = library().find_one(RecipeRecord, uid)
    return recipe.wanted_lab if recipe else None


def lab_of_piece(uid: str) -> Lab | None:
    """As it was measured dry, else as its swatch or recipe."""
    piece = library().find_one(Piece, uid)
    if piece is None:
        return None
    own = library().list(ShadeRecord, piece_uid=uid, state="dry")
    of_swatch = lab_of_swatch(piece.swatch_uid) if piece.swatch_uid and not own else None
    return own[-1].lab if own else of_swatch or lab_of_recipe(piece.recipe_uid)


def lab_of_batch(uid: str) -> Lab | None:
    """As the recipe it is cast from."""
    batch = library().find_one(BatchRecord, uid)
    return None if batch is None else lab_of_recipe(batch.recipe_uid)
