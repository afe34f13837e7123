"""From the swatch library to the model and back: the studio's palette, its tiles, and learning kept.

The library holds records and knows nothing of learning; learning holds tiles and knows nothing of
databases. This is the one place where the two meet.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, TypeVar

from .errors import ColormatchError, InputError, UnknownNameError
from .learning import Tile, learn
from .library import (
    BatchRecord,
    Cement,
    LearnedPalette,
    Library,
    Piece,
    PigmentRecord,
    RecipeRecord,
    Record,
    ShadeRecord,
    Swatch,
    TileRecord,
    bags_and_jars,
    newest_price,
)
from .loads import Mix
from .palette import Base, Palette, Pigment
from .palette_file import palette_from_dict, palette_to_dict
from .shade import Shade
from .spectra import to_grid
from .starter import starter_palette
from .states import state_kind
from .weighed import bowls_of, mix_of

if TYPE_CHECKING:
    from .learning import Report

MEASURED = "measured"  # provenance["kind"] of a shade that was photographed or read by an instrument
R = TypeVar("R", bound=Cement | PigmentRecord)
B = TypeVar("B", bound=Base | Pigment)
_KEPT_AT = "kept_at"  # in the provenance of a shade
LOAD_SD = "load_sd"  # in the provenance of a tile's shade: of each load, g/g, from reading the scale


def now_kept() -> dict[str, str]:
    """For the provenance of a shade kept now: of two of one day the later one counts."""
    return {_KEPT_AT: datetime.now(UTC).isoformat()}


def when_measured(shade: ShadeRecord) -> tuple[str, str]:
    """Sorts shades as they were measured."""
    return str(shade.measured_on or ""), str(shade.provenance.get(_KEPT_AT, ""))


def prior_palette(library: Library) -> Palette:
    """What is known before learning: the starter palette with the studio's own materials, prices, maxima.

    A cement or pigment the starter palette does not know is added: like the one it names, else with the
    wide prior of an unknown one.
    """
    palette = starter_palette()
    for cement in _old_ones_first(library.list(Cement)):
        if cement.uid not in palette.bases:
            palette = palette.with_base(cement.uid, like=_tone(cement, palette), label=cement.name)
    for pigment in _old_ones_first(library.list(PigmentRecord)):
        if pigment.uid not in palette.pigments:
            like = pigment.like if pigment.like in palette.pigments else None
            palette = palette.with_pigment(pigment.uid, like=like, label=pigment.name)
    return with_studio_details(_with_sealers(palette, library), library)


def _with_sealers(palette: Palette, library: Library) -> Palette:
    """A state of its own for every further sealer of which a shade is kept."""
    for state in sorted(library.values(ShadeRecord, "state") - {"dry", *palette.states}):
        with suppress(UnknownNameError):  # an older version took any words for a state
            if state_kind(state) == "sealed":
                palette = palette.with_sealer(state.removeprefix("sealed:"))
    return palette


def _old_ones_first(records: Sequence[R]) -> list[R]:
    """In their order, but a new bag or jar after the one it began from."""
    waiting, settled = list(records), list[R]()
    while waiting:
        names = {each.uid for each in waiting}
        ready = [each for each in waiting if each.like not in names - {each.uid}] or waiting
        settled += ready
        waiting = [each for each in waiting if each not in ready]
    return settled


def with_studio_details(palette: Palette, library: Library) -> Palette:
    """The same palette with the names, prices and maxima the studio has entered."""
    lots, entered = bags_and_jars(library).values(), {each.uid: each for each in library.list(PigmentRecord)}
    cements = {each.uid: each for each in library.list(Cement)}

    def named(old: B, record: Cement | PigmentRecord) -> B:
        price = newest_price(lot for lot in lots if lot.material_uid == record.uid)
        return replace(old, label=record.name, price_per_kg=price or old.price_per_kg)

    bases = {uid: named(old, cements[uid]) if uid in cements else old for uid, old in palette.bases.items()}
    pigments = {uid: named(old, entered[uid]) if uid in entered else old for uid, old in palette.pigments.items()}
    for uid in entered.keys() & pigments.keys():
        own, most = pigments[uid], entered[uid].maximum_load
        pigments[uid] = replace(own, maximum_load=min(own.maximum_load, most or own.maximum_load))
    return replace(palette, bases=bases, pigments=pigments)


def studio_palette(library: Library) -> Palette:
    """The newest learned palette, grown by what came to the shelf since; without one, what was known before.

    A studio with measured tiles that were never learned from is learned now, without being kept.
    """
    kept = newest_learned(library)
    if kept is not None:
        return _grown_by_newcomers(palette_from_dict(_content(kept.payload)), library)
    prior, tiles = prior_palette(library), studio_tiles(library)
    return learn(prior, tiles)[0] if tiles else prior


def payload_of(palette: Palette) -> bytes:
    """A palette as a learned version keeps it."""
    return json.dumps(palette_to_dict(palette)).encode()


def _content(payload: bytes) -> object:
    try:
        return json.loads(payload)
    except (ValueError, RecursionError) as error:
        raise InputError(f"The newest learned palette is damaged ({error}). Learn it again from the tiles.") from None


def newest_learned(library: Library) -> LearnedPalette | None:
    """The learned palette with the highest number, or None."""
    kept = library.list(LearnedPalette)
    return max(kept, key=lambda each: each.number or 0, default=None)


def learn_studio(
    library: Library, *, keep: bool = True, progress: Callable[[float], object] = lambda share: None
) -> tuple[Palette, Report]:
    """Learn from every measured tile and finished swatch; keep=True saves it as a new numbered version.

    A version that says what the newest one says is not kept again. Learning always starts from what is known before
    the first tile, so that no tile is counted twice. Raises LearningError when there is nothing to learn from.
    progress: told the share done; what it raises ends the work with nothing kept.
    """
    sources = _measured(library)
    progress(0.1)
    learned, report = learn(prior_palette(library), [tile for _, tile in sources])
    progress(0.9)
    before, payload = newest_learned(library), payload_of(learned)
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


def left_out(library: Library) -> list[tuple[ShadeRecord, str]]:
    """Measured shades that nothing can be learned from, and why: to be corrected, or put in the bin.

    An older version may have kept one; the gate of today takes none.
    """
    found: list[tuple[ShadeRecord, str]] = []
    _measured(library, found)
    return found


def _measured(library: Library, left: list[tuple[ShadeRecord, str]] | None = None) -> list[tuple[str | None, Tile]]:
    """Uid of the test tile, if it is one, and what was measured; what nothing can be learned from goes to `left`."""
    found: list[tuple[str | None, Tile]] = []
    owners = {(each.KIND, each.uid): each for kind in (TileRecord, Piece, Swatch) for each in library.list(kind)}
    # The newest last, as learning asks of the newest tiles whether they are of a new bag or jar.
    for record in sorted(library.list(ShadeRecord), key=when_measured):
        if record.provenance.get("kind") != MEASURED or _too_early(record):
            continue
        by_kind = (("tile", record.tile_uid), ("piece", record.piece_uid), ("swatch", record.swatch_uid))
        owner = next((owners[key] for key in by_kind if key in owners), None)
        try:
            tile = _tile_of(library, record, owner)
        except ColormatchError as error:
            if left is not None:
                left.append((record, str(error)))
        else:
            if tile is not None:
                found.append((record.tile_uid, tile))
    return found


def _tile_of(library: Library, record: ShadeRecord, owner: Record | None) -> Tile | None:
    """A measured shade of a tile, a piece or a swatch with what went into it, or None where that is not known."""
    if isinstance(owner, TileRecord):
        return _as_tile(record, Mix.of(owner.cement_uid, owner.loads), piece=owner.uid)
    if isinstance(owner, Piece):
        bowl = str(record.provenance.get("bowl", "")) or owner.bowl
        mix, uid, name = mix_of(library, replace(owner, bowl=bowl)).mix, f"{owner.uid}{bowl}", owner.name
    elif isinstance(owner, Swatch):
        mix, uid, name = _mix_of_swatch(library, owner), owner.uid, owner.name
    else:
        return None
    return None if mix is None else _as_tile(record, mix, piece=uid, name=name)


def _too_early(record: ShadeRecord) -> bool:
    """Whether it was measured before the piece had dried or cured: kept, but nothing to learn from."""
    return record.final_from is not None and (record.measured_on is None or record.measured_on < record.final_from)


def _mix_of_swatch(library: Library, swatch: Swatch) -> Mix | None:
    """What went into a swatch that was kept before pieces were: what was weighed for its batch, else its recipe."""
    if swatch.tile_uid is not None or swatch.recipe_uid is None:
        return None  # the tile's own shades are counted already
    batch = library.find_one(BatchRecord, swatch.batch_uid) if swatch.batch_uid else None
    recipe = library.find_one(RecipeRecord, swatch.recipe_uid)
    if batch is None or recipe is None:
        return None if recipe is None else Mix.of(recipe.cement_uid, recipe.loads)
    bowls = [each for each in bowls_of(library, batch) if each.recipe is None or each.recipe.uid == recipe.uid]
    return bowls[0].mix if len(bowls) == 1 else None


def _as_tile(record: ShadeRecord, mix: Mix, *, piece: str, name: str | None = None) -> Tile:
    spectrum = to_grid(record.wavelength_nm, record.reflectance) if record.wavelength_nm else None
    sd = record.provenance.get(LOAD_SD, 0.0)
    title = name and (name if record.state == "dry" else f"{name}, {record.state}")
    details = {"state": record.state, "name": title, "spectrum": spectrum, "piece": piece, "load_sd": sd}
    return Tile(mix.base, mix.loads, record.shade(), **details)


def _grown_by_newcomers(palette: Palette, library: Library) -> Palette:
    prior = prior_palette(library)
    for name in prior.bases:
        if name not in palette.bases:
            palette = palette.with_base(name, like=_tone(library.get(Cement, name), palette))
    for name in prior.pigments:
        if name not in palette.pigments:
            record = library.get(PigmentRecord, name)
            palette = palette.with_pigment(name, like=record.like if record.like in palette.pigments else None)
    return with_studio_details(_with_sealers(palette, library), library)


def _tone(cement: Cement, palette: Palette) -> str | None:
    """The base a new cement is taken to resemble; None: it names none, and may be any cement."""
    return cement.tone if cement.tone in palette.bases else None
