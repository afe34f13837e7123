"""The list of test tiles in hand: advised, weighed, and all kept from one photograph; a draft, so never lost.

Grams are those on her scale: a tile's loads are what was weighed, not what was advised.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

from ..advice import Advice, next_tiles, starter_plan
from ..bench.batch import round_to
from ..errors import InputError
from ..library import Draft, Library, Record, ShadeRecord, TileRecord, draft, drop_draft, new_uid, save_draft
from ..loads import Mix
from ..palette import Palette
from ..studio import MEASURED, shades_in_demand
from .shelf import defaults, offer, shelf

if TYPE_CHECKING:
    from ..shade import Shade

WHAT = "tiles"
TILE_CEMENT_G = 100.0
FEW_STEPS = 3  # of the scale; a smaller dose is off by a sixth or more
_SPARE = 6  # further tiles asked for, in place of those her scale cannot weigh


@dataclass(frozen=True, slots=True)
class ListedTile:
    """One tile to cast: grams of each pigment, why it is worth casting, and its record once it is kept."""

    grams: Mapping[str, float]
    why: str = ""
    uid: str = ""


@dataclass(frozen=True, slots=True)
class TileList:
    """The tiles in hand, in the order they are laid out: one cement, the same grams of it in each.

    off: expected dE00 over the shades she wants, now and once all are learned from; zeros where it is not known.
    """

    base: str
    cement_g: float
    tiles: tuple[ListedTile, ...]
    draft: Draft | None = None
    off: tuple[float, float] = (0.0, 0.0)

    def mix(self, place: int) -> Mix:
        """What is in one tile."""
        return Mix.of(self.base, {name: grams / self.cement_g for name, grams in self.tiles[place].grams.items()})


def tile_list(library: Library) -> TileList | None:
    """The list in hand, on any device; None without one."""
    kept = draft(library, WHAT)
    if kept is None:
        return None
    tiles = tuple(
        ListedTile({str(name): float(grams) for name, grams in each["grams"].items()}, each["why"], each["uid"])
        for each in kept.content["tiles"]
    )
    now, after = kept.content["off"]
    return TileList(str(kept.content["base"]), float(kept.content["cement_g"]), tiles, kept, (now, after))


def advised(
    library: Library, knowledge: Palette, *, count: int = 5, cement_g: float = TILE_CEMENT_G, device: str = ""
) -> TileList:
    """A new list: the tiles of her jars that teach most for the shades she wants; in place of the list before."""
    offered = offer(library, knowledge)
    base = defaults(library).cement_uid or next(iter(offered.bases))
    if not offered.pigments:
        raise InputError(
            "There is no jar on your shelf yet. Add the pigments you cast with; the name on the lid is enough."
        )
    cap, least = defaults(library).load_cap, FEW_STEPS * defaults(library).scale_step_g / cement_g
    advice = next_tiles(offered, shades_in_demand(library), count + _SPARE, base=base, load_cap=cap)
    weighable = [each for each in advice if min(each.loads.values(), default=1.0) >= least]
    return _begin(library, base, weighable[:count], cement_g, device)


def ladder(
    library: Library, knowledge: Palette, pigment: str, *, cement_g: float = TILE_CEMENT_G, device: str = ""
) -> TileList:
    """A new list: the first tiles of one jar, from a blank to its highest load, and a tint with white."""
    offered = offer(library, knowledge)
    base = defaults(library).cement_uid or next(iter(offered.bases))
    return _begin(library, base, starter_plan(offered, pigment, base=base), cement_g, device)


def _begin(library: Library, base: str, advice: Sequence[Advice], cement_g: float, device: str) -> TileList:
    step = defaults(library).scale_step_g
    tiles = [
        ListedTile(
            {name: max(round_to(load * cement_g, step), step) for name, load in each.loads.items()}, _first(each.why)
        )
        for each in advice
    ]
    off = (advice[0].before, advice[-1].after) if advice else (0.0, 0.0)
    return _save(library, TileList(base, cement_g, tuple(tiles), draft(library, WHAT), off), device)


def _first(why: str) -> str:
    """The reason alone: what it does to the error is said once, for all tiles."""
    return f"{why.partition('. ')[0].rstrip('.')}."


def small_doses(library: Library, listed: TileList) -> tuple[str, ...]:
    """Pigments of which some tile gets fewer steps of her scale than can be weighed well."""
    least = FEW_STEPS * defaults(library).scale_step_g
    return tuple(dict.fromkeys(name for tile in listed.tiles for name, g in tile.grams.items() if 0 < g < least))


def reweighed(
    library: Library, listed: TileList, place: int, grams: Mapping[str, float], *, device: str = ""
) -> TileList:
    """What was really weighed for one tile; raises LoadError beyond 10 %."""
    changed = replace(listed.tiles[place], grams={name: g for name, g in grams.items() if g > 0})
    tiles = (*listed.tiles[:place], changed, *listed.tiles[place + 1 :])
    fresh = replace(listed, tiles=tiles)
    fresh.mix(place)
    return _save(library, fresh, device)


def added(
    library: Library, listed: TileList | None, base: str, grams: Mapping[str, float], *, device: str = ""
) -> TileList:
    """A tile of her own at the end of the list, or as the first of a new one."""
    listed = listed or TileList(base, TILE_CEMENT_G, ())
    fresh = replace(listed, tiles=(*listed.tiles, ListedTile({name: g for name, g in grams.items() if g > 0})))
    fresh.mix(len(fresh.tiles) - 1)
    return _save(library, fresh, device)


def left_out(library: Library, listed: TileList, place: int, *, device: str = "") -> TileList:
    """The list without one tile."""
    return _save(library, replace(listed, tiles=(*listed.tiles[:place], *listed.tiles[place + 1 :])), device)


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

    A list measured dry is done and put by (None); one measured wet is waiting to be measured dry.
    """
    if len(shades) != len(listed.tiles):
        raise InputError(
            f"The list has {len(listed.tiles)} tiles and {len(shades)} were measured; they must be as many."
        )
    lots = next((each.lots for each in shelf(library).cements if each.uid == listed.base), ())
    records, tiles = list[Record](), list[ListedTile]()
    for place, (tile, shade) in enumerate(zip(listed.tiles, shades, strict=True)):
        if shade is None:
            tiles.append(tile)
            continue
        uid = tile.uid or new_uid()
        if not tile.uid:
            loads = dict(listed.mix(place).loads)
            lot = lots[0].uid if lots else None
            records.append(
                TileRecord(uid=uid, cement_uid=listed.base, cement_lot_uid=lot, loads=loads, cast_on=date.today())
            )
        noted = {"kind": MEASURED, **(provenance[place] if provenance else {})}
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
        tiles.append(replace(tile, uid=uid))
    library.save_all(records)
    if state == "dry":
        if listed.draft is not None:
            drop_draft(library, listed.draft)
        return None
    return _save(library, replace(listed, tiles=tuple(tiles)), device)


def _save(library: Library, listed: TileList, device: str) -> TileList:
    content = {
        "base": listed.base,
        "cement_g": listed.cement_g,
        "off": list(listed.off),
        "tiles": [{"grams": dict(each.grams), "why": each.why, "uid": each.uid} for each in listed.tiles],
    }
    count = len(listed.tiles)
    title = f"{count} tile{'s' if count != 1 else ''} to cast and measure"
    kept = save_draft(library, WHAT, content=content, seen=listed.draft, title=title, device=device)
    return replace(listed, draft=kept)
