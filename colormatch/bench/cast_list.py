"""The cast list: for each test tile the dry cement, the grams of each pigment, and, once measured, its shade.

Grams are those her scale can show, and a tile's loads are what is weighed, not what was advised. A dose of few steps of
the scale is weighed as a pre-blend with cement, ten times finer. What reading the scale leaves open is the load's own
uncertainty (`Tile.load_sd`). One table, CSV, is written and read back.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..advice import Advice
from ..arrays import number_between, scale_step
from ..errors import ColormatchError, InputError
from ..frozen import FrozenMapping
from ..learning import Tile
from ..learning.tables import read_columns
from ..learning.tile import typed_number
from ..loads import Mix
from ..recipes import PreBlend
from ..recipes.judging import READING_SD
from ..recipes.limits import PREBLEND_PARTS, PREBLEND_SHARE
from ..shade import PHOTO_SD, Shade
from ..states import state_kind
from .batch import round_to
from .sheet import grams_as_shown

TILE_CEMENT_G = 100.0  # a judgement: little to cast, enough to weigh
# Steps of the scale below which a dose is weighed as a pre-blend: at five, reading it moves no shade by more than is
# just seen (tests/bench/test_cast_list.py).
FEW_STEPS = 5
PREBLEND_WORDS = (
    f"A pre-blend 1:{PREBLEND_PARTS}: 1 part pigment and {PREBLEND_PARTS} parts of the same cement, well mixed."
)
_GRAMS = " g"
_COLUMNS = ("tile", "base", "cement_g", "scale_step_g", "L", "a", "b", "sd", "state", "piece", "why")


@dataclass(frozen=True, slots=True)
class CastTile:
    """One tile to cast.

    base, cement_g: its dry cement in g, what a pre-blend brings counted in. grams: of each pigment in it. why: what it
    is for. shade, state: as measured, once it was. piece: which cast piece it is, once it is kept.
    """

    base: str
    cement_g: float
    grams: Mapping[str, float]
    why: str = ""
    shade: Shade | None = None
    state: str = "dry"
    piece: str = ""

    def __post_init__(self) -> None:
        cement = _tile_cement(self.cement_g)
        object.__setattr__(self, "cement_g", cement)
        grams = {
            name: number_between(g, name=f"The grams of {name}", low=0, high=cement, unit="g")
            for name, g in self.grams.items()
        }
        object.__setattr__(self, "grams", FrozenMapping({name: g for name, g in grams.items() if g > 0}))
        state_kind(self.state)
        Mix.of(self.base, {name: g / cement for name, g in self.grams.items()})

    @property
    def mix(self) -> Mix:
        """What is in it."""
        return Mix.of(self.base, {name: g / self.cement_g for name, g in self.grams.items()})


@dataclass(frozen=True, slots=True)
class CastList:
    """Test tiles to cast, in the order they are laid out, for a scale that shows steps of scale_step_g.

    off: expected CIEDE2000 over the shades wanted, now and with all tiles learned; zeros where it is not known.
    """

    tiles: tuple[CastTile, ...] = ()
    scale_step_g: float = 0.1
    off: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        scale_step(self.scale_step_g)

    @classmethod
    def of(cls, advice: Sequence[Advice], *, cement_g: float = TILE_CEMENT_G, scale_step_g: float = 0.1) -> CastList:
        """The advised tiles in grams, each with cement_g of dry cement: `next_tiles`, `starter_plan`.

        Raises InputError for a cement outside 5..5000 g or a step outside 0.0001..50 g.
        """
        if not isinstance(advice, Sequence) or not all(isinstance(each, Advice) for each in advice):
            raise InputError(f"A cast list is made of what next_tiles or starter_plan advise; got {advice!r:.60}.")
        _tile_cement(cement_g)
        step = scale_step(scale_step_g)
        tiles = tuple(
            CastTile(
                each.base,
                cement_g,
                {name: _on_scale(load * cement_g, step) for name, load in each.loads.items()},
                each.reason,
                state=each.state,
            )
            for each in advice
        )
        return cls(tiles, step, (advice[0].before, advice[-1].after) if advice else (0.0, 0.0))

    def blends(self, place: int) -> tuple[PreBlend, ...]:
        """The doses of one tile that are weighed as a pre-blend of 1 part pigment and 9 parts of the same cement."""
        grams = self.tiles[place].grams
        return tuple(PreBlend.of(name, g) for name, g in grams.items() if _little(g, self.scale_step_g))

    def lines(self, place: int, label: Callable[[str], str] = str) -> list[str]:
        """What to weigh for one tile, in order: cement, pigments, pre-blends; label: `Palette.label`."""
        tile, blends = self.tiles[place], {each.pigment: each for each in self.blends(place)}
        cement = tile.cement_g - sum(each.cement_g for each in blends.values())
        weighed = [(cement, label(tile.base))]
        for name, grams in tile.grams.items():
            blend = blends.get(name)
            words = f"{label(name)} as a pre-blend 1:{PREBLEND_PARTS}" if blend else label(name)
            weighed.append((blend.blend_g if blend else grams, words))
        return [f"{grams_as_shown(grams, self.scale_step_g)} g {what}" for grams, what in weighed]

    def too_little(self) -> tuple[str, ...]:
        """Pigments of which some tile gets so little that even a pre-blend is few steps: cast larger tiles."""
        fine = self.scale_step_g * PREBLEND_SHARE
        return tuple(dict.fromkeys(name for tile in self.tiles for name, g in tile.grams.items() if _little(g, fine)))

    def load_sd(self, place: int) -> dict[str, float]:
        """Of each load of one tile, g/g, from reading the scale (GUM F.2.2.1)."""
        tile, step = self.tiles[place], self.scale_step_g
        return {
            name: READING_SD * step * (PREBLEND_SHARE if _little(g, step) else 1.0) / tile.cement_g
            for name, g in tile.grams.items()
        }

    def measured(self) -> list[Tile]:
        """What `learn` takes: the tiles whose shade is known."""
        return [
            Tile(
                tile.base, tile.mix.loads, tile.shade, tile.state, load_sd=self.load_sd(place),
                piece=tile.piece or f"tile {place + 1}",
            )
            for place, tile in enumerate(self.tiles)
            if tile.shade is not None
        ]  # fmt: skip

    def text(self, label: Callable[[str], str] = str) -> str:
        """The list to read at the bench, one tile a paragraph; label: `Palette.label`."""
        out = []
        for place, tile in enumerate(self.tiles):
            out.append(f"{place + 1}. {'; '.join(self.lines(place, label))}. {tile.why}".rstrip())
        if any(self.blends(place) for place in range(len(self.tiles))):
            out.append(PREBLEND_WORDS)
        if few := self.too_little():
            names = " and ".join(label(name) for name in few)
            out.append(f"So little {names} is hard to weigh even as a pre-blend: cast larger tiles.")
        return "\n".join(out)

    def to_csv(self, label: Callable[[str], str] = str) -> str:
        """The list as a table with room for what is measured; `read_cast_list` reads it back.

        One line a tile. "<pigment> g" is what is in it, a pre-blended dose too; L, a, b and sd are to be filled in.
        """
        pigments = list(dict.fromkeys(name for tile in self.tiles for name in tile.grams))
        out = io.StringIO()
        table = csv.writer(out, lineterminator="\n")
        table.writerow([*_COLUMNS, *(f"{label(name)}{_GRAMS}" for name in pigments)])
        for number, tile in enumerate(self.tiles, start=1):
            lab = ["", "", "", ""]
            if tile.shade is not None:
                lab = [f"{value:.3f}" for value in (*tile.shade.lab, tile.shade.sd)]
            grams = [f"{tile.grams[name]:g}" if name in tile.grams else "" for name in pigments]
            head = [number, label(tile.base), f"{tile.cement_g:g}", f"{self.scale_step_g:g}"]
            table.writerow([*head, *lab, tile.state, tile.piece, tile.why, *grams])
        return out.getvalue()


def read_cast_list(source: str | Path | bytes, name_of: Callable[[str], str] = str) -> CastList:
    """A list that `CastList.to_csv` wrote, with the shades filled in since: a file, or its bytes.

    UTF-8; comma or semicolon. name_of: from the name in the file to the palette's, where it was written with labels.
    Raises InputError that names the row, counted from 1.
    """
    columns = read_columns(source)
    if missing := [name for name in ("base", "cement_g", "scale_step_g") if name not in columns]:
        raise InputError(f"The cast list has no column {missing[0]!r}; begin from one that was printed here.")
    tiles, steps = list[CastTile](), set[float]()
    for number, cells in enumerate(zip(*columns.values(), strict=True), start=1):
        row = dict(zip(columns, cells, strict=True))
        try:
            tiles.append(_tile(row, name_of))
            steps.add(typed_number(row["scale_step_g"], "scale_step_g"))
        except ColormatchError as error:
            raise InputError(f"Row {number} of the cast list: {error}") from None
    if len(steps) > 1:
        raise InputError(f"The cast list names {len(steps)} steps of the scale; all tiles go on one scale.")
    return CastList(tuple(tiles), steps.pop()) if steps else CastList()


def _tile(row: Mapping[str, str], name_of: Callable[[str], str]) -> CastTile:
    given = {name: cell.strip() for name, cell in row.items() if cell.strip()}
    numbers = {name: typed_number(given[name], name) for name in ("L", "a", "b", "sd", "cement_g") if name in given}
    lab = [numbers[axis] for axis in "Lab" if axis in numbers]
    if len(lab) not in (0, 3):
        raise InputError("fill in all of L, a and b, or none of them.")
    grams = {
        name_of(name.removesuffix(_GRAMS)): typed_number(cell, name)
        for name, cell in given.items()
        if name.endswith(_GRAMS)
    }
    details: dict[str, Any] = {name: given[name] for name in ("why", "state", "piece") if name in given}
    shade = Shade(tuple(lab), sd=numbers.get("sd", PHOTO_SD)) if lab else None
    return CastTile(name_of(given.get("base", "")), numbers.get("cement_g", 0.0), grams, shade=shade, **details)


def _tile_cement(grams: float) -> float:
    # What can be weighed and looked at, and what one hand mixes; a judgement.
    return number_between(grams, name="The cement of a tile", low=5, high=5000, unit="g")


def _little(grams: float, step: float) -> bool:
    return 0 < grams < FEW_STEPS * step - 1e-9


def _on_scale(grams: float, step: float) -> float:
    """At the scale's nearest mark, or at a tenth of it for a dose that goes into a pre-blend; never nothing."""
    step = step * PREBLEND_SHARE if _little(grams, step) else step
    return max(round_to(grams, step), step)
