"""What is known in the frame: a 24-patch chart, a grey card or plain sheet, known swatches, a board of own tiles."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from os import PathLike
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import FloatArray, number_between
from ..colorimetry import reflectance_to_lab
from ..errors import PhotoError, ReferenceNotFound
from ..shade import Shade
from ..spectra import N_BANDS
from .board import FEWEST_TILES, WINDOWS, paper_patches, window_outlines
from .chart import (
    SMALLEST_PATCH,
    chart_lab,
    chart_reflectance,
    checked_chart,
    edge_width,
    edition_lab,
    read_chart,
    sample_chart,
    smallest_patch_side,
)
from .correct import Observations
from .picture import Picture
from .population import coloured_like, recoloured
from .regions import Region, quadrilateral, region_outline
from .sampling import Sample, sample_region

_PRINT_SD = 0.2  # dE, from one make of chart or card to the next; from memory
_CARD_SD = 0.3  # dE, how far from neutral and from its printed value a card may be; from memory
FEWEST_PATCHES = 12  # half a chart: fewer do not fix the camera's own colours
_FEW_TOO_BRIGHT = 2  # patches of a chart: without them shades err by 0.3 dE00 more at most (six simulated frames)
_MANY_AT_ZERO = 9  # a strong cyan or yellow is always out of a camera's range
INNER = 0.45  # share of a window's side that is sampled: a tile may be smaller than it, and not quite straight
_PAPER_COLOUR, _PAPER_LEVEL = 0.04, 0.08  # log of colour and of level within which a window shows bare paper
_CLIPPED_SHARE = 0.1  # of its pixels: then a reference tells nothing


@dataclass(frozen=True, eq=False)
class Chart24:
    """The 24-patch chart. corners (4, 2): pixels, clockwise from the dark-skin patch's outer corner; None: find it.

    values: her own chart as measured, CIELAB (24, 3) row by row (D65, 2 degrees), or a file of them (`read_chart`).
    edition: "before November 2014" or "after November 2014", as published by the chart's maker; values go before it.
    With neither, the reflectances of ISO 17321-1. A chart nobody measured differs from what is published by about
    1 dE00, so no shade is known better than that on an absolute scale; against each other, shades of one chart are.
    """

    corners: ArrayLike | None = None
    values: ArrayLike | str | PathLike[str] | None = None
    edition: str | None = None

    def own_lab(self) -> FloatArray | None:
        """CIELAB (24, 3) of this chart where it is not that of ISO 17321-1; raises PhotoError."""
        if self.values is None:
            return None if self.edition is None else edition_lab(self.edition)
        return read_chart(self.values) if isinstance(self.values, str | PathLike) else checked_chart(self.values)


@dataclass(frozen=True, eq=False)
class GreyCard:
    """A neutral card (reflectance 0.18) or plain white sheet (about 0.85), marked by its region."""

    region: Region
    reflectance: float = 0.18


@dataclass(frozen=True, eq=False)
class KnownSwatches:
    """Pieces in the frame whose shade is known, as (region, Shade) pairs."""

    swatches: Sequence[tuple[Region, Shade]]


@dataclass(frozen=True, eq=False)
class TileBoard:
    """The printed frame with her own tiles in its windows, twelve shades in reading order (None: nothing is there).

    corners (4, 2): pixels of the border's outer corners, clockwise from the one at window 1; None: find it.
    """

    shades: Sequence[Shade | None]
    corners: ArrayLike | None = None


Reference: TypeAlias = Chart24 | GreyCard | KnownSwatches | TileBoard


@dataclass(frozen=True, eq=False)
class Sampled:
    """One reference as sampled: its kind (patch, card, swatch, tile of the board), known CIELAB (3,) and
    reflectance (31,), and the sd in dE00 of what is known."""

    kind: str
    name: str
    outline: FloatArray
    sample: Sample
    lab: FloatArray
    reflectance: FloatArray
    sd: float


@dataclass(frozen=True, eq=False)
class Found:
    """The references of one picture that can be used; corners (4, 2): of the chart; board (4, 2): of the tile board;
    edge_width: of the chart's patches, in pixels."""

    items: tuple[Sampled, ...]
    corners: FloatArray | None = None
    board: FloatArray | None = None
    edge_width: float = 0.0
    warnings: tuple[str, ...] = ()

    @cached_property
    def seen(self) -> Observations:
        """What goes into the fit."""

        def column(values: Callable[[Sampled], object], *shape: int) -> FloatArray:
            return np.array([values(item) for item in self.items], dtype=np.float64).reshape(-1, *shape)

        return Observations(
            rgb=column(lambda i: i.sample.rgb, 3),
            place=column(lambda i: i.sample.place, 2),
            lab=column(lambda i: i.lab, 3),
            reflectance=column(lambda i: i.reflectance, N_BANDS),
            sd=column(lambda i: i.sd),
            swatch=column(lambda i: i.kind in ("swatch", "tile")),
            noise=column(lambda i: i.sample.covariance, 3, 3),
        )

    def are(self, kind: str) -> NDArray[np.bool_]:
        """Which of the references (n,) are of a kind."""
        return np.array([item.kind == kind for item in self.items], dtype=np.bool_)

    def without(self, which: NDArray[np.bool_], note: str) -> Found:
        """All but those of a mask (n,), and the reason."""
        left = tuple(item for item, out in zip(self.items, which, strict=True) if not out)
        return replace(self, items=left, warnings=(*self.warnings, note))


def sample_references(picture: Picture, references: Sequence[Reference]) -> Found:
    """Sample every reference; raises PhotoError or ReferenceNotFound."""
    items: list[Sampled] = []
    notes: tuple[str, ...] = ()
    corners: FloatArray | None = None
    board: FloatArray | None = None
    for reference in references:
        if isinstance(reference, Chart24):
            corners = _chart_corners(picture, reference)
            items += _patches(picture, corners, reference.own_lab())
        elif isinstance(reference, GreyCard):
            items.append(_card(picture, reference))
        elif isinstance(reference, KnownSwatches):
            items += _swatches(picture, reference)
        elif isinstance(reference, TileBoard):
            board = _board_corners(picture, reference)
            tiles, notes = _tiles(picture, board, reference.shades)
            items += tiles
        else:
            raise PhotoError(
                f"A reference is a Chart24, a GreyCard, KnownSwatches or a TileBoard, not {type(reference).__name__}."
            )
    usable = tuple(item for item in items if item.sample.clipped <= _CLIPPED_SHARE)
    if corners is not None and sum(item.kind == "patch" for item in usable) < FEWEST_PATCHES:
        raise ReferenceNotFound(_chart_lost(items))
    notes += _clipped_notes([item for item in items if item not in usable])
    return Found(usable, corners, board, 0.0 if corners is None else edge_width(picture, corners), notes)


def _board_corners(picture: Picture, reference: TileBoard) -> FloatArray:
    if len(reference.shades) != WINDOWS:
        raise PhotoError(
            f"A tile board has {WINDOWS} windows; {len(reference.shades)} shades were given. Use None for an empty one."
        )
    if reference.corners is None:
        from .find_board import find_board

        return find_board(picture)
    corners = quadrilateral(reference.corners, name="The tile board")
    region_outline(corners, picture.size, name="The tile board")
    return corners


def _tiles(
    picture: Picture, corners: FloatArray, shades: Sequence[Shade | None]
) -> tuple[list[Sampled], tuple[str, ...]]:
    """The tiles that are in their windows, and a note of those that are not."""
    paper = np.array([sample_region(picture, outline).rgb for outline in paper_patches(corners)])
    tiles, missing = [], []
    for number, (shade, outline) in enumerate(zip(shades, window_outlines(corners, INNER), strict=True), start=1):
        if shade is None:
            continue
        sample = sample_region(picture, outline)
        if _is_paper(sample.rgb, paper):
            missing.append(str(number))
        else:
            tiles.append(as_swatch("tile", f"window {number}", outline, sample, shade))
    if len(tiles) < FEWEST_TILES:
        raise ReferenceNotFound(
            f"Only {len(tiles)} tiles lie on the board; at least {FEWEST_TILES} are needed. "
            "Lay the others in their windows."
        )
    note = f"No tile in window {', '.join(missing)} of the board: lay it there, or go on without it."
    return tiles, (note,) if missing else ()


def _is_paper(rgb: FloatArray, paper: FloatArray) -> bool:
    """Whether a window shows what lies between the windows: within the light's own change over the board."""
    log, bare = np.log(np.maximum(rgb, 1e-4)), np.log(np.maximum(paper, 1e-4))
    nearest = bare[np.abs(bare[:, 1] - log[1]).argmin()]
    red, level, blue = log - nearest
    return bool(max(abs(red - level), abs(blue - level)) < _PAPER_COLOUR and abs(level) < _PAPER_LEVEL)


def _chart_corners(picture: Picture, reference: Chart24) -> FloatArray:
    if reference.corners is None:
        from .find_chart import find_chart

        corners = find_chart(picture)
    else:
        corners = quadrilateral(reference.corners, name="The chart")
        region_outline(corners, picture.size, name="The chart")
    side = smallest_patch_side(corners)
    if side < SMALLEST_PATCH:
        raise ReferenceNotFound(
            f"The chart's patches are only {side:.0f} pixels wide; they must be at least {SMALLEST_PATCH:.0f}. "
            "Move closer, or use a larger picture size."
        )
    return corners


def _patches(picture: Picture, corners: FloatArray, own_lab: FloatArray | None) -> list[Sampled]:
    lab, reflectance = chart_lab(), chart_reflectance()
    if own_lab is not None:
        lab, reflectance = own_lab, recoloured(reflectance, own_lab)
    known = zip(sample_chart(picture, corners), lab, reflectance, strict=True)
    return [Sampled("patch", *patch, lab, spectrum, _PRINT_SD) for patch, lab, spectrum in known]


def _chart_lost(items: Sequence[Sampled]) -> str:
    """Why too few patches of a chart can be used."""
    if sum(item.kind == "patch" and item.sample.clipped_high <= _CLIPPED_SHARE for item in items) < FEWEST_PATCHES:
        return (
            "The chart is too bright: most of its patches have lost their colour. Photograph again with less exposure."
        )
    return (
        "A colour channel is at zero in most patches of the chart, so that they tell nothing. Set the camera to its "
        "natural colours, light the scene with a whiter lamp and photograph again."
    )


def _card(picture: Picture, card: GreyCard) -> Sampled:
    y = number_between(card.reflectance, name="The card's reflectance", low=0.02, high=1.0)
    outline = region_outline(card.region, picture.size, name="The grey card")
    flat = np.full(N_BANDS, y)
    sample = sample_region(picture, outline)
    return Sampled("card", "grey card", outline, sample, reflectance_to_lab(flat), flat, _CARD_SD)


def _swatches(picture: Picture, known: KnownSwatches) -> list[Sampled]:
    if not known.swatches:
        raise PhotoError("There are no known swatches to compare with; mark one and say which it is.")
    found = []
    for number, pair in enumerate(known.swatches, start=1):
        if not (isinstance(pair, Sequence) and len(pair) == 2 and isinstance(pair[1], Shade)):
            raise PhotoError(f"Known swatch {number} must be a region with its Shade; got {pair!r}.")
        outline = region_outline(pair[0], picture.size, name=f"Known swatch {number}")
        found.append(as_swatch("swatch", f"swatch {number}", outline, sample_region(picture, outline), pair[1]))
    return found


def as_swatch(kind: str, name: str, outline: FloatArray, sample: Sample, shade: Shade) -> Sampled:
    """A reference of which only the colour is known."""
    lab = np.array(shade.lab)
    return Sampled(kind, name, outline, sample, lab, coloured_like(lab).reflectance, shade.sd)


def _clipped_notes(lost: Sequence[Sampled]) -> tuple[str, ...]:
    high = [item for item in lost if item.sample.clipped_high >= item.sample.clipped_low]
    low = [item.name for item in lost if item not in high]
    notes = []
    if len(high) > _FEW_TOO_BRIGHT or any(item.kind != "patch" for item in high):
        names = ", ".join(item.name for item in high)
        notes.append(f"Too bright to be used as a reference: {names}. Photograph again with less exposure.")
    if len(low) >= _MANY_AT_ZERO:
        notes.append(
            f"A colour channel is at zero, so not used as a reference: {', '.join(low)}. "
            "Set the camera to its natural colours and light the scene with a whiter lamp."
        )
    return tuple(notes)
