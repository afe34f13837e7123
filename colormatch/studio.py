"""From the swatch library to the model and back: the studio's palette, its tiles, and learning kept.

The library holds records and knows nothing of learning; learning holds tiles and knows nothing of
databases. This is the one place where the two meet.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from .errors import InputError
from .learning import Tile, learn
from .library import (
    BatchRecord,
    Cement,
    CementLot,
    LearnedPalette,
    Library,
    PigmentLot,
    PigmentRecord,
    RecipeRecord,
    ShadeRecord,
    Swatch,
    TileRecord,
    Weighing,
)
from .palette import Palette
from .palette_file import palette_from_dict, palette_to_dict
from .shade import Shade
from .spectra import to_grid
from .starter import starter_palette

if TYPE_CHECKING:
    from .learning import Report

MEASURED = "measured"  # provenance["kind"] of a shade that was photographed or read by an instrument


def believed_palette(library: Library) -> Palette:
    """What is believed before learning: the starter palette with the studio's own materials, prices, maxima.

    A cement or pigment the starter palette does not know is added: like the one it names, else with the
    wide prior of an unknown one.
    """
    palette = starter_palette()
    for cement in library.list(Cement):
        if cement.uid not in palette.bases:
            palette = palette.with_base(cement.uid, like=_tone(cement, palette), label=cement.name)
    for pigment in library.list(PigmentRecord):
        if pigment.uid not in palette.pigments:
            like = pigment.like if pigment.like in palette.pigments else None
            palette = palette.with_pigment(pigment.uid, like=like, label=pigment.name)
    return with_studio_details(palette, library)


def with_studio_details(palette: Palette, library: Library) -> Palette:
    """The same palette with the names, prices and maxima the studio has entered."""
    bases, pigments = dict(palette.bases), dict(palette.pigments)
    for cement in library.list(Cement):
        if cement.uid in bases:
            price = _newest_price(library.list(CementLot, cement_uid=cement.uid))
            old = bases[cement.uid]
            bases[cement.uid] = replace(old, label=cement.name, price_per_kg=price or old.price_per_kg)
    for pigment in library.list(PigmentRecord):
        if pigment.uid in pigments:
            price = _newest_price(library.list(PigmentLot, pigment_uid=pigment.uid))
            known = pigments[pigment.uid]
            pigments[pigment.uid] = replace(
                known,
                label=pigment.name,
                price_per_kg=price or known.price_per_kg,
                maximum_load=min(known.maximum_load, pigment.maximum_load or known.maximum_load),
            )
    return replace(palette, bases=bases, pigments=pigments)


def studio_palette(library: Library) -> Palette:
    """The newest learned palette, grown by what came to the shelf since; without one, what is believed.

    A studio with measured tiles that were never learned from is learned now, without being kept.
    """
    kept = newest_learned(library)
    if kept is not None:
        return _grown_by_newcomers(palette_from_dict(_content(kept.payload)), library)
    believed, tiles = believed_palette(library), studio_tiles(library)
    return learn(believed, tiles)[0] if tiles else believed


def _content(payload: bytes) -> object:
    try:
        return json.loads(payload)
    except (ValueError, RecursionError) as error:
        raise InputError(f"The newest learned palette is damaged ({error}). Learn it again from the tiles.") from None


def newest_learned(library: Library) -> LearnedPalette | None:
    """The learned palette with the highest number, or None."""
    kept = library.list(LearnedPalette)
    return max(kept, key=lambda each: each.number or 0, default=None)


def learn_studio(library: Library, *, keep: bool = True) -> tuple[Palette, Report]:
    """Learn from every measured tile and finished swatch; keep=True saves it as a new numbered version.

    A version that says what the newest one says is not kept again. Learning always starts from what is known before
    the first tile, so that no tile is counted twice. Raises LearningError when there is nothing to learn from.
    """
    sources = _measured(library)
    learned, report = learn(believed_palette(library), [tile for _, tile in sources])
    before, payload = newest_learned(library), json.dumps(palette_to_dict(learned)).encode()
    if keep and (before is None or before.payload != payload):
        library.save(
            LearnedPalette(
                number=((before.number or 0) if before else 0) + 1,
                learned_on=date.today(),
                tiles=tuple(dict.fromkeys(uid for uid, _ in sources if uid is not None)),
                payload=payload,
            )
        )
    return learned, report


def studio_tiles(library: Library) -> list[Tile]:
    """Every measured shade whose make-up is known, as a Tile: test tiles, and finished swatches with a recipe."""
    return [tile for _, tile in _measured(library)]


def shades_in_demand(library: Library) -> list[Shade]:
    """The shades the studio wants: the targets of its recipes."""
    return [Shade(recipe.wanted_lab) for recipe in library.list(RecipeRecord) if recipe.wanted_lab is not None]


def _measured(library: Library) -> list[tuple[str | None, Tile]]:
    found: list[tuple[str | None, Tile]] = []
    made = {tile.uid: tile for tile in library.list(TileRecord)}
    swatches = {swatch.uid: swatch for swatch in library.list(Swatch)}
    for record in library.list(ShadeRecord):
        if record.provenance.get("kind") != MEASURED:
            continue
        if record.tile_uid in made:
            tile = made[record.tile_uid]
            found.append((tile.uid, _as_tile(record, tile.cement_uid, dict(tile.loads), piece=tile.uid)))
        elif record.swatch_uid in swatches:
            swatch = swatches[record.swatch_uid]
            mixture = _mixture_of(library, swatch)
            if mixture is not None:
                found.append((None, _as_tile(record, *mixture, piece=swatch.uid, name=swatch.name)))
    return found


def _as_tile(record: ShadeRecord, base: str, loads: dict[str, float], *, piece: str, name: str | None = None) -> Tile:
    spectrum = to_grid(record.wavelength_nm, record.reflectance) if record.wavelength_nm else None
    title = name and (name if record.state == "dry" else f"{name}, {record.state}")
    return Tile(base, loads, record.shade(), state=record.state, name=title, spectrum=spectrum, piece=piece)


def _mixture_of(library: Library, swatch: Swatch) -> tuple[str, dict[str, float]] | None:
    """What went into a swatch: what was weighed for its batch, else its recipe; None when it is not one mixture."""
    if swatch.tile_uid is not None:
        return None  # the tile's own shades are counted already
    recipe = library.find_one(RecipeRecord, swatch.recipe_uid) if swatch.recipe_uid else None
    if recipe is None:
        return None
    weighed = _weighed_loads(library, swatch.batch_uid) if swatch.batch_uid else None
    return recipe.cement_uid, weighed or dict(recipe.loads)


def _weighed_loads(library: Library, batch_uid: str) -> dict[str, float] | None:
    batch = library.find_one(BatchRecord, batch_uid)
    if batch is None or batch.design_uid is not None:
        return None  # two bowls: the weighings are not of one mixture
    cement, grams = 0.0, dict[str, float]()
    lots = {lot.uid: lot.pigment_uid for lot in library.list(PigmentLot)}
    pigments = {pigment.uid for pigment in library.list(PigmentRecord)}
    cements = {record.uid for record in library.list(Cement)}
    for weighing in library.list(Weighing, batch_uid=batch_uid):
        mass = weighing.weighed_g if weighing.weighed_g is not None else weighing.planned_g
        if mass is None:
            return None
        name = lots.get(weighing.pigment_lot_uid or "", weighing.material)
        if weighing.cement_lot_uid is not None or weighing.material in cements:
            cement += mass
        elif name in pigments:
            grams[name] = grams.get(name, 0.0) + mass
    return {name: mass / cement for name, mass in grams.items()} if cement > 0 else None


def _grown_by_newcomers(palette: Palette, library: Library) -> Palette:
    believed = believed_palette(library)
    for name in believed.bases:
        if name not in palette.bases:
            palette = palette.with_base(name, like=_tone(library.get(Cement, name), palette))
    for name in believed.pigments:
        if name not in palette.pigments:
            record = library.get(PigmentRecord, name)
            palette = palette.with_pigment(name, like=record.like if record.like in palette.pigments else None)
    return with_studio_details(palette, library)


def _tone(cement: Cement, palette: Palette) -> str:
    """The base a new cement is taken to resemble: the one it names, else the first."""
    return cement.tone if cement.tone in palette.bases else next(iter(palette.bases))


def _newest_price(lots: Iterable[CementLot] | Iterable[PigmentLot]) -> float | None:
    priced = [lot for lot in lots if lot.price_per_kg is not None]
    newest = max(priced, key=lambda lot: (lot.bought_on or date.min, lot.uid), default=None)
    return None if newest is None else newest.price_per_kg
