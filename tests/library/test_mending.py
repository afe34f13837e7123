"""A record that an older version took and the gate of today does not: put right, or binned, by function and command."""

from dataclasses import replace

import pytest
import sqlalchemy as sa

from colormatch.cli import main
from colormatch.errors import LibraryError
from colormatch.library import (
    KINDS,
    Cement,
    NotInLibrary,
    PigmentRecord,
    ShadeRecord,
    TileRecord,
    kind_called,
    mend,
    open_library,
)
from colormatch.studio import left_out, studio_tiles

OLD = (
    "UPDATE tiles_loads SET amount = 1.0 WHERE owner_uid = 'heavy' AND item = 'red-iron-oxide'",
    "UPDATE shades SET state = 'moist' WHERE uid = 'shade-moist'",
    "UPDATE shades SET wavelength_nm = '[550.0]', reflectance = '[0.5]' WHERE uid = 'shade-single'",
)


@pytest.fixture
def folder(tmp_path):
    """A studio whose tiles were kept by a version that took a load of 1, an unknown state, a spectrum of one value."""
    with open_library(tmp_path / "studio") as library:
        library.save(Cement(uid="white-cement", name="White"))
        library.save_all([PigmentRecord(uid=uid, name=uid) for uid in ("red-iron-oxide", "ochre")])
        for uid in ("sound", "heavy", "moist", "single"):
            library.save(TileRecord(uid=uid, cement_uid="white-cement", loads={"red-iron-oxide": 0.02, "ochre": 0.01}))
            measured = {"provenance": {"kind": "measured"}, "lab": (55, 20, 12)}
            library.save(ShadeRecord(uid=f"shade-{uid}", tile_uid=uid, **measured))
        with library.database.writing() as connection:
            for statement in OLD:
                connection.exec_driver_sql(statement)
    return tmp_path / "studio"


def run(folder, capsys, *arguments):
    with pytest.raises(SystemExit, match=r"^\d$") as left:
        main([*arguments, "--library", str(folder)])
    said = capsys.readouterr()
    return left.value.code or 0, said.out, said.err


def test_mended_by_function_all_teach_again(folder):
    with open_library(folder) as library:
        assert len(left_out(library)) == 3
        tile = mend(library, TileRecord, "heavy", {"load red-iron-oxide": "0.03"})
        assert (tile.version, tile.loads) == (2, {"red-iron-oxide": 0.03, "ochre": 0.01})
        assert mend(library, ShadeRecord, "shade-moist", {"state": "wet"}).lab == (55, 20, 12)
        mend(library, ShadeRecord, "shade-single", {"wavelength_nm": "", "reflectance": ""})
        assert left_out(library) == library.check() == []
        assert {one.piece: one.state for one in studio_tiles(library)}["moist"] == "wet"
        assert len(library.history(tile)) == 2  # what was replaced can be seen


@pytest.mark.slow
def test_named_mended_and_binned_by_command(folder, capsys):
    status, said, _ = run(folder, capsys, "library", "check")
    assert status == 1
    for named in ("mend tile heavy", "bin shade shade-moist", "bin shade shade-single"):
        assert f"colormatch library {named}" in said
    _, said, _ = run(folder, capsys, "learn")
    assert all(f"The shade shade-{uid} is left out: " in said for uid in ("heavy", "moist", "single"))
    assert run(folder, capsys, "library", "mend", "tile", "heavy", "load red-iron-oxide=0.03")[0] == 0
    assert run(folder, capsys, "library", "mend", "shade", "shade-moist", "state=dry", "notes=a=b")[0] == 0
    assert run(folder, capsys, "library", "bin", "shade", "shade-single")[0] == 0
    assert run(folder, capsys, "library", "check")[:2] == (0, "No problem found.\n")
    assert "is left out" not in run(folder, capsys, "learn")[1]
    with open_library(folder) as library:
        assert library.get(ShadeRecord, "shade-moist").notes == "a=b"
        assert [each.record.uid for each in library.bin()] == ["shade-single"]


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["mend", "shade", "shade-moist", "state=damp"], "'damp'"),
        (["mend", "shade", "shade-moist", "colour=red"], "A measured shade has no 'colour'. It has: "),
        (["mend", "shade", "shade-moist", "state"], "FIELD=VALUE"),
        (["mend", "shade", "shade-moist", "lab_l=dark"], "'dark' is not a number"),
        (["mend", "shade", "shade-sound", "tile_uid=nowhere"], "nowhere"),
        (["mend", "tile", "heavy", "load red-iron-oxide=0.5"], "0.5"),
        (["mend", "tile", "heavy", "loads=0.5"], "load PIGMENT"),
        (["mend", "teapot", "heavy", "state=dry"], "There is no kind 'teapot'"),
        (["mend", "shade", "nobody", "state=dry"], "nobody"),
        (["bin", "shade", "nobody"], "nobody"),
        (["bin", "cement", "white-cement"], "delete these first"),
    ],
)
def test_what_cannot_be_is_a_sentence_and_changes_nothing(folder, capsys, arguments, sentence):
    status, _, said = run(folder, capsys, "library", *arguments)
    assert status == 2
    assert sentence in said
    assert len(said.splitlines()) == 1
    with open_library(folder) as library:
        assert len(left_out(library)) == 3


def test_a_value_that_cannot_be_read_is_a_finding_of_the_check(folder, capsys):
    with open_library(folder) as library, library.database.writing() as connection:
        connection.execute(sa.text("UPDATE tiles SET cast_on = 'soon' WHERE uid = 'sound'"))
    status, said, _ = run(folder, capsys, "library", "check")
    assert status == 1
    assert "The test tile 'sound' is damaged" in said


@pytest.mark.parametrize(
    ("name", "kind"),
    [(name, "drying_weight") for name in ("drying weight", "drying-weight", "Drying_weight")]
    + [("jar", "pigment_lot"), ("pigment-lot", "pigment_lot"), ("test tile", "tile"), ("tile", "tile")],
)
def test_a_kind_is_called_as_it_is_said(name, kind):
    assert kind_called(name) is KINDS[kind]


def test_a_field_left_alone_stays_and_the_uid_is_none(folder):
    with open_library(folder) as library:
        sound = library.get(TileRecord, "sound")
        again = mend(library, TileRecord, "sound", {"notes": "poured at noon", "tags": '["b", "a"]'})
        assert again == replace(sound, notes="poured at noon", tags=("b", "a"))
        with pytest.raises(NotInLibrary, match="There is no test tile 'nowhere'"):
            mend(library, TileRecord, "nowhere", {"notes": ""})
        with pytest.raises(LibraryError, match="A test tile has no 'uid'"):
            mend(library, TileRecord, "sound", {"uid": "other"})
