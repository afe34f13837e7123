"""Something of every kind, invented, with texts that have caused trouble elsewhere."""

import io
from datetime import UTC, date, datetime

from PIL import Image

from colormatch.library import (
    BatchRecord,
    CameraProfileRecord,
    Cement,
    CementLot,
    DefectRecord,
    DesignRecord,
    Draft,
    DryingWeight,
    LearnedPalette,
    Mould,
    Piece,
    PigmentLot,
    PigmentRecord,
    RecipeRecord,
    ShadeRecord,
    Studio,
    Swatch,
    TileRecord,
    Weighing,
)

# HTML, SQL, spreadsheet formulas, right-to-left with its control marks, emoji with joiners, quotes, line ends.
HOSTILE = [
    "<script>alert(1)</script><img src=x onerror=alert(1)>",
    "Robert'); DROP TABLE swatches;--",
    '=HYPERLINK("http://example.invalid","x")',
    "+1+1",
    "-2+3",
    "@SUM(A1)",
    "\t=1",
    "'=1",
    "''",
    "\u202eevil\u202c אפור כהה ‏",
    "👩🏽‍🎨🏺 terracotta",
    'a "quoted", name; with | all',
    "two\nlines\r\nand\rmore",
    "%s %d {0} %(x)s \\ $HOME `ls`",
    "../../etc/passwd",
    "naïve ﬁne Straße",
    "\ufeffmark",
    "\x1b[31mred\x07",
    "]]>&amp;",
    " spaces ",
]


def png(number=0, size=(24, 16)):
    out = io.BytesIO()
    Image.new("RGB", size, (number % 256, number // 256 % 256, 200)).save(out, "PNG")
    return out.getvalue()


def fill(library):
    """One of every kind at least, pointing at each other in every way there is."""
    keep = library.save
    keep(
        Studio(
            name="Invented studio", invented=True, settings={"load_cap": 0.05, "words": ["a", "b"], "deep": {"x": 1}}
        )
    )
    white = keep(Cement(name="White cement", tone="white", warn_below_g=2000))
    bag = keep(
        CementLot(
            uid="bag-1", cement_uid=white.uid, lot="A 17", opened_on=date(2026, 3, 1), price_per_kg=0.9, stock_g=25e3
        )
    )
    red = keep(PigmentRecord(name="Red iron oxide", chemistry="Fe2O3", like="red-iron-oxide", maximum_load=0.06))
    blue = keep(PigmentRecord(name="Jar 7"))
    jar = keep(PigmentLot(uid="jar-red", pigment_uid=red.uid, price_per_kg=14.5, stock_g=500))
    mould = keep(Mould(name="Tall cylinder", fill_weight_g=1450.5, volume_ml=690, cement_g=480))
    photo = library.store_photograph(png(), file_name="=kiln.png", taken_on=date(2026, 4, 2))
    keep(CameraProfileRecord(name="Window light", photograph_uid=photo.uid, content={"matrix": [[1.0, 0.1], [0, 2]]}))
    tile = keep(
        TileRecord(
            uid="tile-1", cement_uid=white.uid, cement_lot_uid=bag.uid, loads={red.uid: 0.02, blue.uid: 0.0},
            water_per_cement=0.4, cast_on=date(2026, 3, 3), tags=["ladder", "2 %"],
        )
    )  # fmt: skip
    palette = keep(LearnedPalette(uid="palette-1", name="Spring", number=1, tiles=[tile.uid], payload=b'{"k": [1.5]}'))
    keep(
        LearnedPalette(
            uid="palette-2", number=2, tiles=[tile.uid], media_type="application/x-npz", payload=bytes(range(256))
        )
    )
    recipe = keep(
        RecipeRecord(
            uid="recipe-1", name="Rust", cement_uid=white.uid, loads={red.uid: 0.021}, wanted_lab=(48.5, 21.0, 1e-7),
            wanted_covariance=[[0.5, 0.1, 0], [0.1, 0.4, 0], [0, 0, 0.3]], palette_uid=palette.uid,
            outcome={"expected_delta_e": 1.2, "verdict": "within reach"}, tags=["spring"],
        )
    )  # fmt: skip
    design = keep(
        DesignRecord(
            uid="design-1", name="Two bands", mould_uid=mould.uid, recipes=[recipe.uid], content={"zones": [0.4, 0.6]}
        )
    )
    batch = keep(
        BatchRecord(uid="batch-1", name="Monday", design_uid=design.uid, recipe_uid=recipe.uid, mould_uid=mould.uid,
                    made_on=date(2026, 4, 1), pieces=3, cement_g=1440.0, stage="cast", content={"air_c": 19.5})
    )  # fmt: skip
    at = datetime(2026, 4, 1, 9, 30, 0, 125, tzinfo=UTC)
    keep(
        Weighing(
            uid="w-1", batch_uid=batch.uid, cement_lot_uid=bag.uid, planned_g=1440, weighed_g=1441.5, weighed_at=at
        )
    )
    keep(Weighing(uid="w-2", batch_uid=batch.uid, pigment_lot_uid=jar.uid, bowl="A", planned_g=30.2, weighed_g=30.3))
    keep(Weighing(uid="w-3", batch_uid=batch.uid, material="water", planned_g=576))
    keep(DryingWeight(uid="d-1", batch_uid=batch.uid, piece="1", weighed_at=at, hours=0.1 + 0.2, mass_g=1450.1))
    pot = keep(
        Swatch(uid="pot-1", name="Rust pot", cement_uid=white.uid, recipe_uid=recipe.uid, tile_uid=tile.uid,
               batch_uid=batch.uid, mould_uid=mould.uid, made_on=date(2026, 4, 9), tags=["Rust", "tall"],
               photographs=[photo.uid], notes="kept")
    )  # fmt: skip
    keep(
        ShadeRecord(
            uid="s-1", swatch_uid=pot.uid, state="dry", lab=(50.123456789, 18.0, 20.0), photograph_uid=photo.uid,
            covariance=[[0.49, 0.01, 0.02], [0.01, 0.36, 0.03], [0.02, 0.03, 0.25]],
            provenance={"region": [0.1, 0.2, 0.3, 0.4]},
        )
    )  # fmt: skip
    keep(ShadeRecord(uid="s-2", swatch_uid=pot.uid, state="wet", lab=(33.0, 20.0, 21.0), measured_on=date(2026, 4, 2)))
    piece = keep(
        Piece(
            uid="piece-1", name="First", batch_uid=batch.uid, swatch_uid=pot.uid, recipe_uid=recipe.uid, bowl="A",
            cast_at=at, demould_due_at=at, demoulded_at=at, moist_until=at, sealed_at=at, sold_on=date(2026, 5, 1),
            sealer="wax", mould_finish="oiled", water_per_cement=0.41, temperature_c=18.5, humidity_percent=55,
            conditions={"weather": "rain", "lots": ["bag-1"]},
        )
    )  # fmt: skip
    keep(DryingWeight(uid="d-2", batch_uid=batch.uid, piece_uid=piece.uid, weighed_at=at, mass_g=1449.0))
    early = {"state": "demould", "final_from": date(2026, 5, 1)}
    keep(ShadeRecord(uid="s-4", piece_uid=piece.uid, swatch_uid=pot.uid, lab=(41.0, 19.0, 20.5), **early))
    keep(Draft(what="bowl", key=batch.uid, title="Monday, bowl A", content={"readings": [1441.5, 30.3]}, changed_at=at))
    spectrum = {"wavelength_nm": [400, 410.5, 700], "reflectance": [0.1, 0.25, 0.6]}
    keep(ShadeRecord(uid="s-3", tile_uid=tile.uid, lab=(60.0, 10.0, 9.0), **spectrum))
    keep(DefectRecord(uid="defect-1", name="bloom", batch_uid=batch.uid, swatch_uid=pot.uid, photograph_uid=photo.uid))
    library.save_all(record for i, text in enumerate(HOSTILE) for record in _hostile(f"{i:02}", text))


def _hostile(number, text):
    pot = Swatch(uid=f"hostile-{number}", name=text, tags=[text], notes=text)
    shade = ShadeRecord(uid=f"hostile-shade-{number}", swatch_uid=pot.uid, lab=(50, 0, 0), provenance={"said": text})
    return pot, shade, DefectRecord(uid=f"hostile-defect-{number}", name=text, notes=text)


def fingerprint(library):
    """Everything that is in a library but its bin and history, in a form that can be compared."""
    from colormatch.library import KINDS

    return {kind.KIND: library.list(kind) for kind in KINDS.values()}
