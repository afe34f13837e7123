"""The nouns of the swatch library: one frozen dataclass per table.

A record without a `uid` is given one when it is saved: a readable one made from its name for cements,
pigments, moulds and the like, a random one for the rest. The uid of a cement is the name of its base in a
Palette and the uid of a pigment the name of that pigment in a Palette, so `loads` of a tile or recipe can be
handed to the model as they are. `version` counts the edits; a record is saved only over the version it was
read at. Masses are in grams, loads in g pigment per g dry cement, prices per kg in the studio's currency.
"""

# ruff: noqa: RUF009 - the functions of fields.py make fields, as dataclasses.field does

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, ClassVar

import numpy as np

from ..shade import Shade
from . import fields as f

Lab = tuple[float, float, float]


def new_uid() -> str:
    """A fresh random uid (32 hexadecimal digits)."""
    return uuid.uuid4().hex


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What every record has: its uid, and the number of the version that was read (0: not yet saved)."""

    KIND: ClassVar[str] = ""
    TABLE: ClassVar[str] = ""
    SEARCHED: ClassVar[tuple[str, ...]] = ()
    uid: str = ""
    version: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Studio(Record):
    """The studio itself; one record, uid `studio`. `settings`: cap, scale step and the like."""

    KIND: ClassVar[str] = "studio"
    TABLE: ClassVar[str] = "studio"
    name: str = f.name()
    invented: bool = f.flag()
    currency: str = f.text("EUR", limit=12)
    settings: Mapping[str, Any] = f.mapping()
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class Cement(Record):
    """A cement the studio uses; its uid is the name of the base in a Palette.

    `kind`: "quick-setting", "portland" or "other". Hours in the mould, days kept moist and days from casting until
    a piece may be sealed as its sheet says; None: what is usual for its kind.
    """

    KIND: ClassVar[str] = "cement"
    TABLE: ClassVar[str] = "cements"
    name: str = f.name()
    tone: str = f.text()
    kind: str = f.text()
    demould_after_h: float | None = f.number(low=0)
    moist_days: float | None = f.number(low=0)
    seal_after_days: float | None = f.number(low=0)
    warn_below_g: float | None = f.number(low=0)
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class CementLot(Record):
    """One bag or delivery of a cement; with `used_up_on` it is off the shelf, and what was learned of it stays."""

    KIND: ClassVar[str] = "cement_lot"
    TABLE: ClassVar[str] = "cement_lots"
    cement_uid: str = f.reference("cement", required=True)
    lot: str = f.text()
    bought_on: date | None = f.day()
    opened_on: date | None = f.day()
    used_up_on: date | None = f.day()
    price_per_kg: float | None = f.number(low=0)
    stock_g: float | None = f.number()
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class PigmentRecord(Record):
    """A pigment on the shelf; its uid is its name in a Palette.

    `like` names the starter pigment it is taken to resemble (empty: unknown). `maximum_load`: the most its
    data sheet allows, g per g cement; at most 0.10 (ASTM C979 clause 1.4).
    """

    KIND: ClassVar[str] = "pigment"
    TABLE: ClassVar[str] = "pigments"
    name: str = f.name()
    chemistry: str = f.text()
    like: str = f.text()
    maximum_load: float | None = f.number(low=0, high=0.10)
    warn_below_g: float | None = f.number(low=0)
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class PigmentLot(Record):
    """One jar or bag of a pigment; with `used_up_on` it is off the shelf, and what was learned of it stays."""

    KIND: ClassVar[str] = "pigment_lot"
    TABLE: ClassVar[str] = "pigment_lots"
    pigment_uid: str = f.reference("pigment", required=True)
    lot: str = f.text()
    bought_on: date | None = f.day()
    used_up_on: date | None = f.day()
    price_per_kg: float | None = f.number(low=0)
    stock_g: float | None = f.number()
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class Mould(Record):
    """A mould: what one filling weighs, its volume, and the dry cement in one filling."""

    KIND: ClassVar[str] = "mould"
    TABLE: ClassVar[str] = "moulds"
    name: str = f.name()
    fill_weight_g: float | None = f.number(low=0.1, high=100_000)
    volume_ml: float | None = f.number(low=0.1, high=100_000)
    cement_g: float | None = f.number(low=0.1, high=100_000)
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class Photograph(Record):
    """A photograph in the file store; its uid is the sha256 of the file."""

    KIND: ClassVar[str] = "photograph"
    TABLE: ClassVar[str] = "photographs"
    media_type: str = f.text()
    width_px: int | None = f.whole(low=1)
    height_px: int | None = f.whole(low=1)
    size_bytes: int | None = f.whole(low=1)
    file_name: str = f.text()
    taken_on: date | None = f.day()
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraProfileRecord(Record):
    """What was learned of one camera under one light; `content` is the photo part's own."""

    KIND: ClassVar[str] = "camera_profile"
    TABLE: ClassVar[str] = "camera_profiles"
    name: str = f.name()
    made_on: date | None = f.day()
    photograph_uid: str | None = f.reference("photograph")
    content: Mapping[str, Any] = f.mapping()
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class TileRecord(Record):
    """A test tile: what went into it. Its measured shades are ShadeRecords with its `tile_uid`."""

    KIND: ClassVar[str] = "tile"
    TABLE: ClassVar[str] = "tiles"
    cement_uid: str = f.reference("cement", required=True)
    cement_lot_uid: str | None = f.reference("cement_lot")
    loads: Mapping[str, float] = f.loads()
    water_per_cement: float | None = f.number(low=0, high=2)
    sand_per_cement: float | None = f.number(low=0, high=10)
    cast_on: date | None = f.day()
    tags: tuple[str, ...] = f.names()
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class LearnedPalette(Record):
    """A learned palette with the tiles it came from; `payload` is the learner's own (JSON or npz).

    `number` is the place in the sequence 1, 2, 3...; every learning is a new record, none is replaced.
    """

    KIND: ClassVar[str] = "learned_palette"
    TABLE: ClassVar[str] = "learned_palettes"
    name: str = f.text()
    number: int | None = f.whole(low=1)
    learned_on: date | None = f.day()
    tiles: tuple[str, ...] = f.names("tile")
    media_type: str = f.text("application/json")
    payload: bytes = f.blob()
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeRecord(Record):
    """A recipe: loads on a cement, the shade asked for, and what was promised (`outcome`: free content)."""

    KIND: ClassVar[str] = "recipe"
    TABLE: ClassVar[str] = "recipes"
    name: str = f.name()
    cement_uid: str = f.reference("cement", required=True)
    loads: Mapping[str, float] = f.loads()
    wanted_lab: Lab | None = f.lab()
    wanted_covariance: tuple[tuple[float, ...], ...] = f.matrix()
    palette_uid: str | None = f.reference("learned_palette")
    outcome: Mapping[str, Any] = f.mapping()
    made_on: date | None = f.day()
    tags: tuple[str, ...] = f.names()
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignRecord(Record):
    """A design of one tone or two: its recipes in order, its mould, and `content` (the design's own)."""

    KIND: ClassVar[str] = "design"
    TABLE: ClassVar[str] = "designs"
    name: str = f.name()
    mould_uid: str | None = f.reference("mould")
    recipes: tuple[str, ...] = f.names("recipe")
    content: Mapping[str, Any] = f.mapping()
    made_on: date | None = f.day()
    tags: tuple[str, ...] = f.names()
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchRecord(Record):
    """One casting session. `stage`: "planned", "weighing", "cast" or "done"; `drawn_down`: taken from stock.

    `code`: the one printed on its sheet. `planned`: the sheet as planned, kept beside the weighings.
    """

    KIND: ClassVar[str] = "batch"
    TABLE: ClassVar[str] = "batches"
    name: str = f.text()
    recipe_uid: str | None = f.reference("recipe")
    design_uid: str | None = f.reference("design")
    mould_uid: str | None = f.reference("mould")
    made_on: date | None = f.day()
    pieces: int | None = f.whole()
    cement_g: float | None = f.number(low=0)
    stage: str = f.text()
    code: str = f.text()
    planned: Mapping[str, Any] = f.mapping()
    drawn_down: bool = f.flag()
    content: Mapping[str, Any] = f.mapping()
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing(Record):
    """One thing weighed into a bowl: from a pigment lot, from a cement lot, or just named (water, sand).

    `step`: its place in the order of the bowl.
    """

    KIND: ClassVar[str] = "weighing"
    TABLE: ClassVar[str] = "weighings"
    batch_uid: str = f.reference("batch", required=True, owned=True)
    material: str = f.text()
    bowl: str = f.text()
    step: int | None = f.whole()
    pigment_lot_uid: str | None = f.reference("pigment_lot")
    cement_lot_uid: str | None = f.reference("cement_lot")
    planned_g: float | None = f.number(low=0)
    weighed_g: float | None = f.number(low=0)
    weighed_at: datetime | None = f.moment()
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class Swatch(Record):
    """A kept result. Its shades, one or more per state, are ShadeRecords with its `swatch_uid`."""

    KIND: ClassVar[str] = "swatch"
    TABLE: ClassVar[str] = "swatches"
    SEARCHED: ClassVar[tuple[str, ...]] = ("name", "tags", "notes")
    name: str = f.name()
    cement_uid: str | None = f.reference("cement")
    recipe_uid: str | None = f.reference("recipe")
    tile_uid: str | None = f.reference("tile")
    batch_uid: str | None = f.reference("batch")
    mould_uid: str | None = f.reference("mould")
    made_on: date | None = f.day()
    tags: tuple[str, ...] = f.names()
    photographs: tuple[str, ...] = f.names("photograph")
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece(Record):
    """One piece of a batch and its life. Its shades are ShadeRecords with its `piece_uid`.

    `bowl`: whose bowl it was cast from, empty for all. `conditions`: what may change the shade (lots, weather,
    additive ...) as it was, locked when the piece is measured. Water in g per g cement, temperature in degrees C.
    """

    KIND: ClassVar[str] = "piece"
    TABLE: ClassVar[str] = "pieces"
    name: str = f.name()
    batch_uid: str | None = f.reference("batch", owned=True)
    swatch_uid: str | None = f.reference("swatch")
    recipe_uid: str | None = f.reference("recipe")
    bowl: str = f.text()
    cast_at: datetime | None = f.moment()
    demould_due_at: datetime | None = f.moment()
    demoulded_at: datetime | None = f.moment()
    moist_until: datetime | None = f.moment()
    sealed_at: datetime | None = f.moment()
    sold_on: date | None = f.day()
    sealer: str = f.text()
    mould_finish: str = f.text()
    water_per_cement: float | None = f.number(low=0, high=2)
    temperature_c: float | None = f.number(low=-50, high=100)
    humidity_percent: float | None = f.number(low=0, high=100)
    conditions: Mapping[str, Any] = f.mapping()
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class DryingWeight(Record):
    """One weight on the drying curve of one piece of a batch; `piece`: its name, where it has no record."""

    KIND: ClassVar[str] = "drying_weight"
    TABLE: ClassVar[str] = "drying_weights"
    batch_uid: str = f.reference("batch", required=True, owned=True)
    piece_uid: str | None = f.reference("piece", owned=True)
    piece: str = f.text()
    weighed_at: datetime | None = f.moment()
    hours: float | None = f.number(low=0)
    mass_g: float = f.number(low=0, required=True)
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class ShadeRecord(Record):
    """A shade of a swatch, a piece or a tile in one state, with its covariance and where it came from.

    That of a piece may name the swatch too, which it is then a shade of. `final_from`: the day from which it may be
    judged, where it was measured before the piece had dried or cured; None: it is final.

    `provenance`: free content (photograph region, reference used, instrument, predicted by...). A measured
    spectrum, where there is one: `wavelength_nm` and `reflectance` (0..1), of equal length.
    """

    KIND: ClassVar[str] = "shade"
    TABLE: ClassVar[str] = "shades"
    swatch_uid: str | None = f.reference("swatch", owned=True)
    tile_uid: str | None = f.reference("tile", owned=True)
    piece_uid: str | None = f.reference("piece", owned=True)
    state: str = f.text("dry")
    lab: Lab = f.lab(required=True)
    covariance: tuple[tuple[float, ...], ...] = f.matrix()
    measured_on: date | None = f.day()
    final_from: date | None = f.day()
    photograph_uid: str | None = f.reference("photograph")
    provenance: Mapping[str, Any] = f.mapping()
    wavelength_nm: tuple[float, ...] = f.numbers(low=0)
    reflectance: tuple[float, ...] = f.numbers(low=0)
    notes: str = f.notes()

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
class DefectRecord(Record):
    """A defect seen on a batch or a swatch: bloom, pinholes, streaks..."""

    KIND: ClassVar[str] = "defect"
    TABLE: ClassVar[str] = "defects"
    name: str = f.name()
    batch_uid: str | None = f.reference("batch")
    swatch_uid: str | None = f.reference("swatch")
    photograph_uid: str | None = f.reference("photograph")
    seen_on: date | None = f.day()
    notes: str = f.notes()


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft(Record):
    """Work in hand, kept at each change: one for each (`what`, `key`); see drafts.py.

    `what`: "match", "bowl", "tiles", "design" ...; `key`: what it is about; `device`: where it was last changed.
    """

    KIND: ClassVar[str] = "draft"
    TABLE: ClassVar[str] = "drafts"
    what: str = f.name()
    key: str = f.text()
    title: str = f.text()
    content: Mapping[str, Any] = f.mapping()
    changed_at: datetime | None = f.moment()
    device: str = f.text()


# A kind comes after every kind it points at: the order in which records can be written.
KINDS: dict[str, type[Record]] = {
    each.KIND: each
    for each in (
        Studio, Cement, CementLot, PigmentRecord, PigmentLot, Mould, Photograph, CameraProfileRecord,
        TileRecord, LearnedPalette, RecipeRecord, DesignRecord, BatchRecord, Weighing, Swatch, Piece, DryingWeight,
        ShadeRecord, DefectRecord, Draft,
    )
}  # fmt: skip
