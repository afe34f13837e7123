"""The invented demo studio: who it is, its cements, pigments and moulds; prices, lots and stock are made up."""

from __future__ import annotations

from datetime import date

from colormatch.library import Cement, CementLot, Mould, PigmentLot, PigmentRecord, Record, Studio

SCALE_STEP_G, BULK_STEP_G, WATER_PER_CEMENT, CAP = 0.1, 1.0, 0.25, 0.05
TRAY, PLANTER = "oblong-tray", "bud-planter"

STUDIO = Studio(
    uid="studio",
    name="Tidewrack Yard (an invented studio)",
    invented=True,
    currency="EUR",
    settings={
        "cement_uid": "white-cement",
        "load_cap": CAP,
        "scale_step_g": SCALE_STEP_G,
        "bulk_step_g": BULK_STEP_G,
        "water_per_cement": WATER_PER_CEMENT,
    },
    notes=(
        "An invented two-person workshop that casts trinket trays, bud planters and bookends. Nothing here is real: "
        "the tiles were cast in a simulated studio whose optics are not this tool's model, the photographs were "
        "rendered from spectra, and the prices, lots and weights are made up."
    ),
)

# uid, starter it resembles is the same; chemistry; maximum load; warn below [g]
_PIGMENTS = [
    ("red-iron-oxide", "Red iron oxide", "alpha-Fe2O3 (PR101)", 0.10, 150.0),
    ("yellow-iron-oxide", "Yellow iron oxide", "alpha-FeOOH (PY42)", 0.10, 150.0),
    ("black-iron-oxide", "Black iron oxide", "Fe3O4 (PBk11)", 0.10, 150.0),
    ("brown-iron-oxide", "Brown iron oxide", "blend of iron oxides (PBr6)", 0.10, 80.0),
    ("titanium-white", "Titanium white", "TiO2, rutile (PW6)", 0.10, 200.0),
    ("chromium-oxide-green", "Chromium oxide green", "Cr2O3 (PG17)", 0.10, 80.0),
    ("cobalt-blue", "Cobalt blue", "CoAl2O4 (PB28)", 0.10, 30.0),
    ("ultramarine-blue", "Ultramarine blue", "aluminosilicate with sulphur (PB29)", 0.10, 80.0),
    ("carbon-black", "Carbon black", "C (PBk7)", 0.02, 20.0),
]
# pigment, lot, bought on, price per kg, stock [g]; a jar without stock is used up
_PIGMENT_LOTS = [
    ("red-iron-oxide", "R-13", (2025, 11, 10), 6.5, 0.0),
    ("red-iron-oxide", "R-14", (2026, 3, 2), 6.8, 118.4),
    ("red-iron-oxide", "R-15", (2026, 9, 21), 7.4, 1000.0),
    ("yellow-iron-oxide", "Y-08", (2026, 3, 2), 8.2, 642.7),
    ("black-iron-oxide", "K-11", (2026, 3, 2), 6.9, 588.1),
    ("brown-iron-oxide", "N-03", (2025, 11, 10), 8.5, 212.0),
    ("titanium-white", "W-20", (2026, 6, 15), 9.6, 871.3),
    ("chromium-oxide-green", "G-05", (2026, 3, 2), 23.5, 301.9),
    ("cobalt-blue", "B-01", (2025, 11, 10), 98.0, 41.2),
    ("ultramarine-blue", "U-07", (2026, 6, 15), 18.4, 390.6),
    ("carbon-black", "C-02", (2025, 11, 10), 14.5, 18.6),
]


def shelf() -> list[Record]:
    """The studio, its cements and pigments with their lots, and its moulds."""
    return [STUDIO, *_cements(), *_pigments(), *_moulds()]


def _cements() -> list[Record]:
    return [
        Cement(uid="white-cement", name="White cement", tone="white-cement", kind="portland", warn_below_g=5000.0,
               notes="Cements may hold chromium VI and silica: read the bag's safety data sheet."),
        Cement(uid="grey-cement", name="Grey cement", tone="grey-cement", kind="portland", warn_below_g=5000.0),
        CementLot(uid="white-cement-30", cement_uid="white-cement", lot="WC-30", bought_on=date(2026, 5, 4),
                  opened_on=date(2026, 5, 11), used_up_on=date(2026, 8, 31), price_per_kg=0.82, stock_g=0.0),
        CementLot(uid="white-cement-31", cement_uid="white-cement", lot="WC-31", bought_on=date(2026, 8, 24),
                  opened_on=date(2026, 9, 1), price_per_kg=0.84, stock_g=13870.0),
        CementLot(uid="white-cement-32", cement_uid="white-cement", lot="WC-32", bought_on=date(2026, 11, 2),
                  price_per_kg=0.88, stock_g=25000.0, notes="not opened yet"),
        CementLot(uid="grey-cement-12", cement_uid="grey-cement", lot="GC-12", bought_on=date(2026, 8, 24),
                  opened_on=date(2026, 9, 7), price_per_kg=0.31, stock_g=18220.0),
    ]  # fmt: skip


def _pigments() -> list[Record]:
    kinds = [
        PigmentRecord(uid=uid, name=name, chemistry=chemistry, like=uid, maximum_load=most, warn_below_g=low,
                      notes="Fine powder: P100 or FFP3 mask, no draught.")
        for uid, name, chemistry, most, low in _PIGMENTS
    ]  # fmt: skip
    lots = [
        PigmentLot(uid=lot_uid(pigment, lot), pigment_uid=pigment, lot=lot, bought_on=date(*bought),
                   used_up_on=None if stock else date(2026, 8, 28), price_per_kg=price, stock_g=stock)
        for pigment, lot, bought, price, stock in _PIGMENT_LOTS
    ]  # fmt: skip
    return [*kinds, *lots]


def lot_uid(pigment: str, lot: str) -> str:
    """The uid of a pigment lot."""
    return f"{pigment}-{lot.lower()}"


def lot_in_use(pigment: str) -> str:
    """The uid of the jar that is open: the first one that is not used up."""
    return lot_uid(pigment, _open_jar(pigment))


def lot_words(material: str) -> str:
    """A cement or pigment with the bag or jar in use, as a maker would note it."""
    if material.endswith("cement"):
        return {"white-cement": "White cement WC-31", "grey-cement": "Grey cement GC-12"}[material]
    return f"{next(name for uid, name, *_ in _PIGMENTS if uid == material)} {_open_jar(material)}"


def _open_jar(pigment: str) -> str:
    return next(lot for name, lot, _, _, stock in _PIGMENT_LOTS if name == pigment and stock)


def _moulds() -> list[Record]:
    return [
        Mould(uid=TRAY, name="Oblong trinket tray", fill_weight_g=412.0, volume_ml=203.0, cement_g=326.0,
              notes="18 x 15 cm, silicone, matte."),
        Mould(uid=PLANTER, name="Bud planter", fill_weight_g=655.0, volume_ml=323.0, cement_g=518.0,
              notes="10 cm high, two-part, silicone. Not for burning candles in."),
    ]  # fmt: skip
