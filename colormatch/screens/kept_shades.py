"""The dry shades that are kept of a thing, so that a place may show them without working out the palette."""

from __future__ import annotations

from colormatch.library import BatchRecord, DesignRecord, Piece, RecipeRecord, ShadeRecord, Swatch
from colormatch.screens.studios import library
from colormatch.studio import when_measured
from colormatch.workshop.pieces import dry_shade

Lab = tuple[float, float, float]


def labs_of_piece(uid: str) -> tuple[Lab, ...]:
    """As it was measured dry, else as its swatch, its recipe or its two tones."""
    piece = library().find_one(Piece, uid)
    if piece is None:
        return ()
    own = dry_shade(library(), piece)
    if own is not None:
        return (own.lab,)
    return _labs_of_swatch(piece.swatch_uid) or _labs_of_recipe(piece.recipe_uid) or labs_of_batch(piece.batch_uid)


def labs_of_batch(uid: str | None) -> tuple[Lab, ...]:
    """As the recipe it is cast from, or as the tones of its design."""
    batch = library().find_one(BatchRecord, uid) if uid else None
    if batch is None:
        return ()
    design = library().find_one(DesignRecord, batch.design_uid) if batch.design_uid else None
    recipes = (batch.recipe_uid,) if design is None else design.recipes
    return tuple(lab for recipe in recipes for lab in _labs_of_recipe(recipe))


def _labs_of_swatch(uid: str | None) -> tuple[Lab, ...]:
    kept = library().list(ShadeRecord, swatch_uid=uid, state="dry") if uid else []
    return (max(kept, key=when_measured).lab,) if kept else ()


def _labs_of_recipe(uid: str | None) -> tuple[Lab, ...]:
    """The shade of its swatch, else the one wanted."""
    if uid is None:
        return ()
    for swatch in library().list(Swatch, recipe_uid=uid):
        if labs := _labs_of_swatch(swatch.uid):
            return labs
    recipe = library().find_one(RecipeRecord, uid)
    return (recipe.wanted_lab,) if recipe and recipe.wanted_lab else ()
