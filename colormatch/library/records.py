"""The nouns of the swatch library: one frozen dataclass per table.

A record without a `uid` is given one when it is saved: a readable one made from its name for cements,
pigments, moulds and the like, a random one for the rest. The uid of a cement is the name of its base in a
Palette and the uid of a pigment the name of that pigment in a Palette, so `loads` of a tile or recipe can be
handed to the model as they are. `version` counts the edits; a record is saved only over the version it was
read at. Masses are in grams, loads in g pigment per g dry cement, prices per kg in the studio's currency.
"""

# ruff: noqa: RUF009 - kept() makes a field, as dataclasses.field does

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, ClassVar

import numpy as np

from ..errors import ColormatchError, LibraryError
from ..shade import Shade
from ..spectra import check_reflectance, to_grid
from ..states import state_kind
from . import compounds as c
from . import fields as f
from .fields import kept
from .materials import Cement, CementLot, Mould, PigmentLot, PigmentRecord, Studio
from .record import NAME, NOTES, Record

LabValue = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Photograph(Record, kind="photograph", table="photographs"):
    """A photograph in the file store; its uid is the sha256 of the file."""

    media_type: str = kept(f.Text())
    width_px: int | None = kept(f.Whole(low=1))
    height_px: int | None = kept(f.Whole(low=1))
    size_bytes: int | None = kept(f.Whole(low=1))
    file_name: str = kept(f.Text())
    taken_on: date | None = kept(f.Day())
    notes: str = kept(NOTES)


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraProfileRecord(Record, kind="camera_profile", table="camera_profiles"):
    """What was learned of one camera under one light; `content` is the photo part's own."""

    name: str = kept(NAME)
    made_on: date | None = kept(f.Day())
    photograph_uid: str | None = kept(f.Reference(kind="photograph"))
    content: Mapping[str, Any] = kept(f.Free())
    notes: str = kept(NOTES)


@dataclass(frozen=True, slots=True, kw_only=True)
class TileRecord(Record, kind="tile", table="tiles"):
    """A test tile: what went into it. Its measured shades are ShadeRecords with its `tile_uid`."""

    cement_uid: str = kept(f.Reference(kind="cement", required=True))
    cement_lot_uid: str | None = kept(f.Reference(kind="cement_lot"))
    loads: Mapping[str, float] = kept(c.Loads(kind="pigment"))
    water_per_cement: float | None = kept(f.Number(low=0, high=2))
    sand_per_cement: float | None = kept(f.Number(low=0, high=10))
    cast_on: date | None = kept(f.Day())
    tags: tuple[str, ...] = kept(c.Names())
    notes: str = kept(NOTES)


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedPalette(Record, kind="learned_palette", table="learned_palettes"):
    """A learned palette with the tiles it came from; `payload` is the learner's own (JSON or npz).

    `number` is the place in the sequence 1, 2, 3...; every learning is a new record, none is replaced.
    """

    name: str = kept(f.Text())
    number: int | None = kept(f.Whole(low=1))
    learned_on: date | None = kept(f.Day())
    tiles: tuple[str, ...] = kept(c.Names(kind="tile"))
    media_type: str = kept(f.Text(), "application/json")
    payload: bytes = kept(f.Blob())
    notes: str = kept(NOTES)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeRecord(Record, kind="recipe", table="recipes"):
    """A recipe: loads on a cement, the shade asked for, and what was promised (`outcome`: free content)."""

    name: str = kept(NAME)
    cement_uid: str = kept(f.Reference(kind="cement", required=True))
    loads: Mapping[str, float] = kept(c.Loads(kind="pigment"))
    wanted_lab: LabValue | None = kept(c.Lab())
    wanted_covariance: tuple[tuple[float, ...], ...] = kept(c.Matrix())
    palette_uid: str | None = kept(f.Reference(kind="learned_palette"))
    outcome: Mapping[str, Any] = kept(f.Free())
    made_on: date | None = kept(f.Day())
    tags: tuple[str, ...] = kept(c.Names())
    notes: str = kept(NOTES)


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignRecord(Record, kind="design", table="designs"):
    """A design of one tone or two: its recipes in order, its mould, and `content` (the design's own)."""

    name: str = kept(NAME)
    mould_uid: str | None = kept(f.Reference(kind="mould"))
    recipes: tuple[str, ...] = kept(c.Names(kind="recipe"))
    content: Mapping[str, Any] = kept(f.Free())
    made_on: date | None = kept(f.Day())
    tags: tuple[str, ...] = kept(c.Names())
    notes: str = kept(NOTES)


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchRecord(Record, kind="batch", table="batches"):
    """One casting session. `stage`: "planned", "weighing", "cast" or "done"; `drawn_down`: taken from stock.

    `code`: the one printed on its sheet. `planned`: the sheet as planned, kept beside the weighings.
    """

    name: str = kept(f.Text())
    recipe_uid: str | None = kept(f.Reference(kind="recipe"))
    design_uid: str | None = kept(f.Reference(kind="design"))
    mould_uid: str | None = kept(f.Reference(kind="mould"))
    made_on: date | None = kept(f.Day())
    pieces: int | None = kept(f.Whole(low=0))
    cement_g: float | None = kept(f.Number(low=0))
    stage: str = kept(f.Text())
    code: str = kept(f.Text())
    planned: Mapping[str, Any] = kept(f.Free())
    drawn_down: bool = kept(f.Flag())
    content: Mapping[str, Any] = kept(f.Free())
    notes: str = kept(NOTES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing(Record, kind="weighing", table="weighings"):
    """One thing weighed into a bowl: from a pigment lot, from a cement lot, or just named (water, sand).

    `step`: its place in the order of the bowl.
    """

    batch_uid: str = kept(f.Reference(kind="batch", required=True, owned=True))
    material: str = kept(f.Text())
    bowl: str = kept(f.Text())
    step: int | None = kept(f.Whole(low=0))
    pigment_lot_uid: str | None = kept(f.Reference(kind="pigment_lot"))
    cement_lot_uid: str | None = kept(f.Reference(kind="cement_lot"))
    planned_g: float | None = kept(f.Number(low=0))
    weighed_g: float | None = kept(f.Number(low=0))
    weighed_at: datetime | None = kept(f.Moment())
    notes: str = kept(NOTES)

    @property
    def lot_uid(self) -> str:
        """The bag or jar it was weighed from; empty where that is not known, or there is none."""
        return self.pigment_lot_uid or self.cement_lot_uid or ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Swatch(Record, kind="swatch", table="swatches"):
    """A kept result. Its shades, one or more per state, are ShadeRecords with its `swatch_uid`."""

    SEARCHED: ClassVar[tuple[str, ...]] = ("name", "tags", "notes")
    name: str = kept(NAME)
    cement_uid: str | None = kept(f.Reference(kind="cement"))
    recipe_uid: str | None = kept(f.Reference(kind="recipe"))
    tile_uid: str | None = kept(f.Reference(kind="tile"))
    batch_uid: str | None = kept(f.Reference(kind="batch"))
    mould_uid: str | None = kept(f.Reference(kind="mould"))
    made_on: date | None = kept(f.Day())
    tags: tuple[str, ...] = kept(c.Names())
    photographs: tuple[str, ...] = kept(c.Names(kind="photograph"))
    notes: str = kept(NOTES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece(Record, kind="piece", table="pieces"):
    """One piece of a batch and its life. Its shades are ShadeRecords with its `piece_uid`.

    `bowl`: whose bowl it was cast from, empty for all. `conditions`: what may change the shade (lots, weather,
    additive ...) as it was, locked when the piece is measured. Water in g per g cement, temperature in degrees C.
    """

    name: str = kept(NAME)
    batch_uid: str | None = kept(f.Reference(kind="batch", owned=True))
    swatch_uid: str | None = kept(f.Reference(kind="swatch"))
    recipe_uid: str | None = kept(f.Reference(kind="recipe"))
    bowl: str = kept(f.Text())
    cast_at: datetime | None = kept(f.Moment())
    demould_due_at: datetime | None = kept(f.Moment())
    demoulded_at: datetime | None = kept(f.Moment())
    moist_until: datetime | None = kept(f.Moment())
    sealed_at: datetime | None = kept(f.Moment())
    sold_on: date | None = kept(f.Day())
    sealer: str = kept(f.Text())
    mould_finish: str = kept(f.Text())
    water_per_cement: float | None = kept(f.Number(low=0, high=2))
    temperature_c: float | None = kept(f.Number(low=-50, high=100))
    humidity_percent: float | None = kept(f.Number(low=0, high=100))
    conditions: Mapping[str, Any] = kept(f.Free())
    notes: str = kept(NOTES)


@dataclass(frozen=True, slots=True, kw_only=True)
class DryingWeight(Record, kind="drying_weight", table="drying_weights"):
    """One weight on the drying curve of one piece of a batch; `piece`: its name, where it has no record."""

    batch_uid: str = kept(f.Reference(kind="batch", required=True, owned=True))
    piece_uid: str | None = kept(f.Reference(kind="piece", owned=True))
    piece: str = kept(f.Text())
    weighed_at: datetime | None = kept(f.Moment())
    hours: float | None = kept(f.Number(low=0))
    mass_g: float = kept(f.Number(low=0, required=True))
    notes: str = kept(NOTES)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShadeRecord(Record, kind="shade", table="shades"):
    """A shade of a swatch, a piece or a tile in one state, with its covariance and where it came from.

    That of a piece may name the swatch too, which it is then a shade of. `final_from`: the day from which it may be
    judged, where it was measured before the piece had dried or cured; None: it is final.

    `provenance`: free content (photograph region, reference used, instrument, predicted by...). A measured
    spectrum, where there is one: `wavelength_nm` and `reflectance` (0..1), of equal length.
    """

    swatch_uid: str | None = kept(f.Reference(kind="swatch", owned=True))
    tile_uid: str | None = kept(f.Reference(kind="tile", owned=True))
    piece_uid: str | None = kept(f.Reference(kind="piece", owned=True))
    state: str = kept(f.Text(), "dry")
    lab: LabValue = kept(c.Lab(required=True))
    covariance: tuple[tuple[float, ...], ...] = kept(c.Matrix())
    measured_on: date | None = kept(f.Day())
    final_from: date | None = kept(f.Day())
    photograph_uid: str | None = kept(f.Reference(kind="photograph"))
    provenance: Mapping[str, Any] = kept(f.Free())
    wavelength_nm: tuple[float, ...] = kept(c.Numbers(low=0))
    reflectance: tuple[float, ...] = kept(c.Numbers(low=0))
    notes: str = kept(NOTES)

    def check_whole(self) -> None:
        """One owner, or the two that a piece of a swatch has; a spectrum is whole and in order."""
        if bool(self.tile_uid) == bool(self.swatch_uid or self.piece_uid):
            raise LibraryError(
                "A shade belongs to a tile, or to a swatch or a piece (or both of these): give the uid of one of them."
            )
        if len(self.wavelength_nm) != len(self.reflectance):
            raise LibraryError(
                f"The spectrum has {len(self.wavelength_nm)} wavelengths and {len(self.reflectance)} reflectances; "
                "there must be as many of the one as of the other."
            )
        try:
            state_kind(self.state)
            if self.wavelength_nm:
                check_reflectance(to_grid(self.wavelength_nm, self.reflectance))
        except ColormatchError as wrong:
            raise LibraryError(f"The shade{f' {self.uid}' if self.uid else ''}: {wrong}") from None

    @classmethod
    def of(cls, shade: Shade, **fields: Any) -> ShadeRecord:
        """A record of a Shade: its Lab and covariance, and the other fields as given."""
        lab = tuple(float(x) for x in shade.lab)
        covariance = tuple(tuple(float(x) for x in row) for row in shade.covariance)
        return cls(lab=lab, covariance=covariance, **fields)  # type: ignore[arg-type]

    def shade(self) -> Shade:
        """The Shade of this record; without a covariance, one of zeros."""
        return Shade(self.lab, covariance=np.array(self.covariance)) if self.covariance else Shade(self.lab)


@dataclass(frozen=True, slots=True, kw_only=True)
class DefectRecord(Record, kind="defect", table="defects"):
    """A defect seen on a batch or a swatch: bloom, pinholes, streaks..."""

    name: str = kept(NAME)
    batch_uid: str | None = kept(f.Reference(kind="batch"))
    swatch_uid: str | None = kept(f.Reference(kind="swatch"))
    photograph_uid: str | None = kept(f.Reference(kind="photograph"))
    seen_on: date | None = kept(f.Day())
    notes: str = kept(NOTES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft(Record, kind="draft", table="drafts"):
    """Work in hand, kept at each change: one for each (`what`, `key`); see drafts.py.

    `what`: "match", "bowl", "tiles", "design" ...; `key`: what it is about; `device`: where it was last changed.
    """

    what: str = kept(NAME)
    key: str = kept(f.Text())
    title: str = kept(f.Text())
    content: Mapping[str, Any] = kept(f.Free())
    changed_at: datetime | None = kept(f.Moment())
    device: str = kept(f.Text())


# A kind comes after every kind it points at: the order in which records can be written.
KINDS: dict[str, type[Record]] = {
    each.KIND: each
    for each in (
        Studio, Cement, CementLot, PigmentRecord, PigmentLot, Mould, Photograph, CameraProfileRecord,
        TileRecord, LearnedPalette, RecipeRecord, DesignRecord, BatchRecord, Weighing, Swatch, Piece, DryingWeight,
        ShadeRecord, DefectRecord, Draft,
    )
}  # fmt: skip
