"""What is known in the frame: a 24-patch chart, a grey card or plain sheet, swatches measured before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import FloatArray, number_between
from ..colorimetry import reflectance_to_lab
from ..errors import PhotoError, ReferenceNotFound
from ..shade import Shade
from ..spectra import N_BANDS
from .chart import SMALLEST_PATCH, Patch, chart_lab, chart_reflectance, edge_width, sample_chart, smallest_patch_side
from .correct import Observations
from .load import Picture
from .regions import Region, quadrilateral, region_outline
from .sampling import Sample, sample_region
from .surfaces import coloured_like

_PRINT_SD = 0.2  # dE, from one make of chart or card to the next; from memory
_CARD_SD = 0.6
_FEWEST_UNCLIPPED = 12
_MANY_AT_ZERO = 6  # a strong cyan or yellow is always out of a camera's range
_CLIPPED_SHARE = 0.1  # of its pixels: then a reference tells nothing


@dataclass(frozen=True, eq=False)
class Chart24:
    """The 24-patch chart. corners (4, 2): pixels, clockwise from the dark-skin patch's outer corner; None: find it."""

    corners: ArrayLike | None = None


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
class _Item:
    """One sampled reference: known CIELAB (3,) and reflectance (31,), sd in dE00."""

    name: str
    outline: FloatArray
    sample: Sample
    lab: FloatArray
    reflectance: FloatArray
    sd: float
    swatch: bool = False


Reference: TypeAlias = Chart24 | GreyCard | KnownSwatches


@dataclass(frozen=True, eq=False)
class Found:
    """The references of one picture, sampled: what goes into the fit and what is told about it."""

    seen: Observations
    names: tuple[str, ...]
    outlines: tuple[FloatArray, ...]
    corners: FloatArray | None = None
    patches: tuple[Patch, ...] = ()
    swatches: int = 0
    edge_width: float = 0.0  # of the chart's patches, in pixels
    spread: FloatArray = field(default_factory=lambda: np.zeros(0))
    warnings: tuple[str, ...] = field(default=())

    def only(self, which: NDArray[np.bool_]) -> Found:
        """The references of a mask (n,)."""
        kept = np.flatnonzero(which)
        return replace(
            self,
            seen=self.seen.only(which),
            names=tuple(self.names[i] for i in kept),
            outlines=tuple(self.outlines[i] for i in kept),
            spread=self.spread[which],
        )


def sample_references(picture: Picture, references: Sequence[Reference]) -> Found:
    """Sample every reference; raises PhotoError or ReferenceNotFound."""
    items: list[_Item] = []
    notes: list[str] = []
    corners: FloatArray | None = None
    patches: list[Patch] = []
    swatches = 0
    for reference in references:
        if isinstance(reference, Chart24):
            corners, patches = _chart(picture, reference)
            known = zip(patches, chart_lab(), chart_reflectance(), strict=True)
            items += [_Item(p.name, p.outline, p.sample, lab, spectrum, _PRINT_SD) for p, lab, spectrum in known]
        elif isinstance(reference, GreyCard):
            items.append(_card(picture, reference))
        elif isinstance(reference, KnownSwatches):
            found = _swatches(picture, reference)
            swatches += len(found)
            items += found
        else:
            raise PhotoError(f"A reference is a Chart24, a GreyCard or KnownSwatches, not {type(reference).__name__}.")
    usable = [item for item in items if item.sample.clipped <= _CLIPPED_SHARE]
    notes += _clipped_notes(items, usable)
    if patches and sum(p.sample.clipped_high <= _CLIPPED_SHARE for p in patches) < _FEWEST_UNCLIPPED:
        raise ReferenceNotFound(
            "The chart is too bright: most of its patches have lost their colour. Photograph again with less exposure."
        )
    return Found(
        _observations(usable),
        tuple(item.name for item in usable),
        tuple(item.outline for item in usable),
        corners,
        tuple(patches),
        swatches,
        0.0 if corners is None else edge_width(picture, corners),
        np.array([item.sample.spread for item in usable]),
        tuple(notes),
    )


def _chart(picture: Picture, reference: Chart24) -> tuple[FloatArray, list[Patch]]:
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
    return corners, sample_chart(picture, corners)


def _card(picture: Picture, card: GreyCard) -> _Item:
    y = number_between(card.reflectance, name="The card's reflectance", low=0.02, high=1.0)
    outline = region_outline(card.region, picture.size, name="The grey card")
    flat = np.full(N_BANDS, y)
    return _Item("grey card", outline, sample_region(picture, outline), reflectance_to_lab(flat), flat, _CARD_SD)


def _swatches(picture: Picture, known: KnownSwatches) -> list[_Item]:
    if not known.swatches:
        raise PhotoError("There are no known swatches to compare with; mark one and say which it is.")
    found = []
    for number, pair in enumerate(known.swatches, start=1):
        if not (isinstance(pair, Sequence) and len(pair) == 2 and isinstance(pair[1], Shade)):
            raise PhotoError(f"Known swatch {number} must be a region with its Shade; got {pair!r}.")
        region, shade = pair
        name = f"swatch {number}"
        outline = region_outline(region, picture.size, name=f"Known {name}")
        sample, lab = sample_region(picture, outline), np.array(shade.lab)
        found.append(_Item(name, outline, sample, lab, coloured_like(lab).reflectance, shade.sd, swatch=True))
    return found


def _observations(items: Sequence[_Item]) -> Observations:
    if not items:
        empty = np.zeros((0, 3))
        return Observations(
            empty, np.zeros((0, 2)), empty, np.zeros((0, N_BANDS)), np.zeros(0), np.zeros(0), np.zeros((0, 3, 3))
        )
    samples = [item.sample for item in items]
    return Observations(
        np.stack([s.rgb for s in samples]),
        np.stack([s.place for s in samples]),
        np.stack([item.lab for item in items]),
        np.stack([item.reflectance for item in items]),
        np.array([item.sd for item in items]),
        np.array([float(item.swatch) for item in items]),
        np.stack([s.covariance for s in samples]),
    )


def _clipped_notes(items: Sequence[_Item], usable: Sequence[_Item]) -> list[str]:
    lost = [item for item in items if item not in usable]
    high = [item.name for item in lost if item.sample.clipped_high >= item.sample.clipped_low]
    low = [item.name for item in lost if item.sample.clipped_high < item.sample.clipped_low]
    notes = []
    if high:
        notes.append(f"Too bright to be used as a reference: {', '.join(high)}. Photograph again with less exposure.")
    if len(low) >= _MANY_AT_ZERO:
        notes.append(
            f"A colour channel is at zero, so not used as a reference: {', '.join(low)}. "
            "Set the camera to its natural colours and light the scene with a whiter lamp."
        )
    return notes
