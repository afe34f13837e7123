"""The list of test tiles in hand: advised, weighed, and all kept from one photograph; a draft, so never lost.

What is on it is a `CastList`: grams are those on her scale, a tile's loads are what was weighed, not what was advised.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import takewhile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..advice import Advice, next_tiles, starter_plan
from ..bench.batch import FIRST_WATER
from ..bench.cast_list import TILE_CEMENT_G, CastList, CastTile, read_cast_list
from ..errors import InputError, UnknownNameError
from ..library import (
    ConflictError,
    Draft,
    Library,
    Record,
    ShadeRecord,
    TileRecord,
    draft,
    drop_draft,
    new_uid,
    save_draft,
)
from ..loads import Mix
from ..palette import Palette
from ..studio import LOAD_SD, MEASURED, now_kept, shades_in_demand
from .shelf import defaults, offer, shelf

if TYPE_CHECKING:
    from ..shade import Shade

WHAT = "tiles"
FIRST_TILES = 5  # bring most of what a list can (tests/benchmarks/test_beginner.py); then recipes teach as much
_SPARE = 6  # further tiles asked for, in place of those her scale cannot weigh even as a pre-blend


@dataclass(frozen=True, slots=True)
class TileList:
    """The tiles in hand: one cement, the same grams of it in each. The piece of a tile is its record, once kept."""

    base: str
    cement_g: float
    cast: CastList
    draft: Draft | None = None

    @property
    def tiles(self) -> tuple[CastTile, ...]:
        """In the order they are laid out."""
        return self.cast.tiles

    @property
    def off(self) -> tuple[float, float]:
        """Expected dE00 over the shades she wants, now and once all are learned from; zeros: not known."""
        return self.cast.off

    def mix(self, place: int) -> Mix:
        """What is in one tile."""
        return self.tiles[place].mix

    def changed(self, tiles: Sequence[CastTile]) -> TileList:
        """The same list with other tiles; how far off those leave recipes is not known."""
        alike = [each.grams for each in tiles] == [each.grams for each in self.tiles]
        return replace(self, cast=replace(self.cast, tiles=tuple(tiles), off=self.off if alike else (0.0, 0.0)))


@dataclass(frozen=True, slots=True)
class Taken:
    """What came of a table: how many tiles were measured, and the list of those that are not, if any."""

    measured: int
    left: TileList | None


def water_words(library: Library, listed: TileList) -> str:
    """The water of each tile: the same in all, as water changes the shade too."""
    most = listed.cement_g * defaults(library).water_per_cement
    return (
        f"Water: {most * FIRST_WATER:.0f} g into each, then by eye up to {most:.0f} g, until it is thick and pours; "
        "what the first tile took, the others take too."
    )


def tile_list(library: Library) -> TileList | None:
    """The list in hand, on any device; None without one."""
    kept = draft(library, WHAT)
    if kept is None:
        return None
    base, cement_g = str(kept.content["base"]), float(kept.content["cement_g"])
    tiles = tuple(
        CastTile(base, cement_g, each["grams"], each["why"], piece=each["uid"]) for each in kept.content["tiles"]
    )
    now, after = kept.content["off"]
    return TileList(base, cement_g, CastList(tiles, defaults(library).scale_step_g, (now, after)), kept)


def advised(
    library: Library, knowledge: Palette, *, count: int = FIRST_TILES, cement_g: float = TILE_CEMENT_G, device: str = ""
) -> TileList:
    """A new list: the tiles of her jars that teach most for the shades she wants; in place of the list before.

    Only what is worth casting: a list without tiles says that recipes are as good without (`off`).
    """
    offered = offer(library, knowledge)
    base = defaults(library).cement_uid or next(iter(offered.bases))
    if not offered.pigments:
        raise InputError(
            "There is no jar on your shelf yet. Add the pigments you cast with; the name on the lid is enough."
        )
    cap, step = defaults(library).load_cap, defaults(library).scale_step_g
    advice = next_tiles(offered, shades_in_demand(library), count + _SPARE, base=base, load_cap=cap)
    worth = takewhile(lambda each: each.worth_casting, advice)
    weighable = [each for each in worth if not CastList.of([each], cement_g=cement_g, scale_step_g=step).too_little()]
    listed = _begin(library, base, weighable[:count], cement_g, device)
    if listed.tiles:
        return listed
    return _save(library, replace(listed, cast=replace(listed.cast, off=(advice[0].before, advice[0].before))), device)


def ladder(
    library: Library, knowledge: Palette, pigment: str, *, cement_g: float = TILE_CEMENT_G, device: str = ""
) -> TileList:
    """A new list: the first tiles of one jar, from a blank to its highest load, and a tint with white."""
    offered = offer(library, knowledge)
    base = defaults(library).cement_uid or next(iter(offered.bases))
    return _begin(library, base, starter_plan(offered, pigment, base=base), cement_g, device)


def _begin(library: Library, base: str, advice: Sequence[Advice], cement_g: float, device: str) -> TileList:
    cast = CastList.of(advice, cement_g=cement_g, scale_step_g=defaults(library).scale_step_g)
    return _save(library, TileList(base, cement_g, with_pieces(cast), draft(library, WHAT)), device)


def with_pieces(cast: CastList) -> CastList:
    """The list with a name for each piece, so that a table of it that comes back twice is kept once."""
    return replace(cast, tiles=tuple(replace(each, piece=each.piece or new_uid()) for each in cast.tiles))


def as_table(cast: CastList, knowledge: Palette) -> str:
    """The list as the table that `taken_in` reads, with the names on bags and jars where each is the only one."""
    return cast.to_csv(lambda name: next((said for said, own in _names(knowledge).items() if own == name), name))


def _names(knowledge: Palette) -> dict[str, str]:
    """What a table may call each cement and pigment: its label if no other has it, and its name."""
    names = [*knowledge.bases, *knowledge.pigments]
    labels = Counter(knowledge.label(name).casefold() for name in names)
    unlike = {knowledge.label(name): name for name in names if labels[knowledge.label(name).casefold()] == 1}
    return unlike | {name: name for name in names}


def taken_in(library: Library, knowledge: Palette, table: bytes | str | Path, *, device: str = "") -> Taken:
    """A list that was printed as a table, weighed and measured elsewhere: it becomes the list in hand.

    What was measured is kept at once, as `keep_measured` does; what was not stays on the list. Raises InputError.
    """
    names = {said.casefold(): name for said, name in _names(knowledge).items()}

    def name_of(text: str) -> str:
        if text.casefold() not in names:
            own = dict.fromkeys(names.values())
            raise UnknownNameError("cement or pigment", text, [knowledge.label(name) for name in own])
        return names[text.casefold()]

    cast = read_cast_list(table, name_of)
    if not cast.tiles:
        raise InputError("The table holds no tile. Give the one that was saved as a table here, with its lines.")
    if len({(each.base, each.cement_g) for each in cast.tiles}) > 1 or len({each.state for each in cast.tiles}) > 1:
        raise InputError("The tiles of one list have one cement, the same grams of it, and were measured in one state.")
    first = cast.tiles[0]
    kept = {each.tile_uid for each in library.list(ShadeRecord) if each.state == first.state} - {None}
    if any(each.shade and each.piece in kept for each in cast.tiles):
        raise InputError(f"Tiles of this table were kept {first.state} before. Take them out of it, or undo the first.")
    shades = [each.shade for each in cast.tiles]
    fresh = replace(cast, tiles=tuple(replace(each, shade=None, state="dry") for each in cast.tiles))
    listed = _save(library, TileList(first.base, first.cement_g, with_pieces(fresh), draft(library, WHAT)), device)
    if not any(shades):
        return Taken(0, listed)
    waiting = keep_measured(library, listed, shades, state=first.state, device=device)
    return Taken(len(shades) - shades.count(None), waiting)


def reweighed(
    library: Library, listed: TileList, place: int, grams: Mapping[str, float], *, device: str = ""
) -> TileList:
    """What was really weighed for one tile; raises LoadError beyond 10 %."""
    changed = replace(listed.tiles[place], grams=grams)
    return _save(library, listed.changed([*listed.tiles[:place], changed, *listed.tiles[place + 1 :]]), device)


def added(
    library: Library, listed: TileList | None, base: str, grams: Mapping[str, float], *, device: str = ""
) -> TileList:
    """A tile of her own at the end of the list, or as the first of a new one."""
    listed = listed or TileList(base, TILE_CEMENT_G, CastList(scale_step_g=defaults(library).scale_step_g))
    own = CastTile(listed.base, listed.cement_g, grams, piece=new_uid())
    return _save(library, listed.changed([*listed.tiles, own]), device)


def left_out(library: Library, listed: TileList, place: int, *, device: str = "") -> TileList:
    """The list without one tile."""
    return _save(library, listed.changed([*listed.tiles[:place], *listed.tiles[place + 1 :]]), device)


def keep_measured(
    library: Library,
    listed: TileList,
    shades: Sequence[Shade | None],
    *,
    state: str = "dry",
    photograph_uid: str | None = None,
    provenance: Sequence[Mapping[str, Any]] = (),
    device: str = "",
) -> TileList | None:
    """Keep the tiles with their measured shades, in the order of the list, None for one left out; all or nothing.

    Measured dry, a tile is done: what was left out stays on the list, which without any is put by (None). Tiles
    measured wet wait on it to be measured dry.
    """
    if len(shades) != len(listed.tiles):
        raise InputError(
            f"The list has {len(listed.tiles)} tiles and {len(shades)} were measured; they must be as many."
        )
    there = draft(library, WHAT)
    if listed.draft is not None and (there is None or there.version != listed.draft.version):
        raise ConflictError("The list was changed or kept on another device meanwhile. Look at it again, then keep it.")
    lots = next((each.lots for each in shelf(library).cements if each.uid == listed.base), ())
    records, tiles = list[Record](), list[CastTile]()
    for place, (tile, shade) in enumerate(zip(listed.tiles, shades, strict=True)):
        if shade is None:
            tiles.append(tile)
            continue
        uid = tile.piece or new_uid()
        if library.find_one(TileRecord, uid) is None:
            loads = dict(listed.mix(place).loads)
            lot = lots[0].uid if lots else None
            records.append(
                TileRecord(uid=uid, cement_uid=listed.base, cement_lot_uid=lot, loads=loads, cast_on=date.today())
            )
        noted = {
            "kind": MEASURED,
            **now_kept(),
            **(provenance[place] if provenance else {}),
            LOAD_SD: listed.cast.load_sd(place),
        }
        records.append(
            ShadeRecord.of(
                shade,
                state=state,
                tile_uid=uid,
                photograph_uid=photograph_uid,
                measured_on=date.today(),
                provenance=noted,
            )
        )
        tiles.append(replace(tile, piece=uid))
    library.save_all(records)
    if state != "dry":
        return _save(library, listed.changed(tiles), device)
    if left := [tile for tile, shade in zip(listed.tiles, shades, strict=True) if shade is None]:
        return _save(library, listed.changed(left), device)
    if listed.draft is not None:
        drop_draft(library, listed.draft)
    return None


def _save(library: Library, listed: TileList, device: str) -> TileList:
    content = {
        "base": listed.base,
        "cement_g": listed.cement_g,
        "off": list(listed.off),
        "tiles": [{"grams": dict(each.grams), "why": each.why, "uid": each.piece} for each in listed.tiles],
    }
    count = len(listed.tiles)
    title = f"{count} tile{'s' if count != 1 else ''} to cast and measure"
    kept = save_draft(library, WHAT, content=content, seen=listed.draft, title=title, device=device)
    return replace(listed, draft=kept)
