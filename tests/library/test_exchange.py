"""Out and in again: the same, character for character and byte for byte; and all of it or nothing."""

import csv
import shutil
import tomllib
import zipfile
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from examples import HOSTILE, fill, fingerprint, png

from colormatch.library import (
    KINDS,
    Cement,
    ExchangeError,
    LearnedPalette,
    PigmentRecord,
    RecipeRecord,
    ShadeRecord,
    Studio,
    Swatch,
    TileRecord,
    export_library,
    import_library,
    open_library,
)


def contents(path):
    """file name -> bytes, of a folder or zip."""
    if path.suffix == ".zip":
        with zipfile.ZipFile(path) as archive:
            return {name: archive.read(name) for name in archive.namelist()}
    return {p.relative_to(path).as_posix(): p.read_bytes() for p in path.rglob("*") if p.is_file()}


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    folder = tmp_path_factory.mktemp("filled")
    with open_library(folder / "from") as library:
        fill(library)
        return export_library(library, folder / "exported")


@pytest.fixture
def exported(filled, tmp_path):
    """A folder with something of every kind."""
    return Path(shutil.copytree(filled, tmp_path / "exported"))


@pytest.fixture
def other(tmp_path):
    with open_library(tmp_path / "other") as library:
        yield library


@pytest.mark.parametrize("name", ["out", "out.zip"])
def test_out_and_in_and_out_is_the_same(full, database, tmp_path, name):
    first = export_library(full, tmp_path / name)
    with open_library(database()) as other:
        report = import_library(other, first)
        assert fingerprint(other) == fingerprint(full)
        second = export_library(other, tmp_path / f"again-{name}")
        assert other.check() == []
        assert other.photograph_bytes(full.get(Swatch, "pot-1").photographs[0]) == png()
    assert contents(second) == contents(first)
    assert sum(map(len, report.added.values())) == sum(full.count(kind) for kind in KINDS.values())
    assert (report.changed, report.warnings) == ([], [])


def test_a_zip_of_the_same_is_the_same_file(full, tmp_path):
    one = export_library(full, tmp_path / "one.zip").read_bytes()
    assert export_library(full, tmp_path / "two.zip").read_bytes() == one
    assert contents(export_library(full, tmp_path / "folder")) == contents(tmp_path / "one.zip")


def test_the_files_can_be_read_with_anything(exported):
    """TOML, CSV (RFC 4180) and sha256 as everyone else reads them."""
    assert tomllib.loads((exported / "library.toml").read_text())["studio"]["invented"] is True
    assert "invented" in (exported / "README.md").read_text()
    pigments = tomllib.loads((exported / "pigments.toml").read_text())["pigment"]
    assert {p["uid"] for p in pigments} == {"red-iron-oxide", "jar-7"}
    with (exported / "tiles.csv").open(newline="", encoding="utf-8") as file:
        (tile,) = csv.DictReader(file)
    assert (tile["uid"], tile["load red-iron-oxide"], tile["load jar-7"]) == ("tile-1", "0.02", "0.0")
    with (exported / "spectra.csv").open(newline="") as file:
        assert list(csv.reader(file)) == [["uid", "400", "410.5", "700"], ["s-3", "0.1", "0.25", "0.6"]]
    assert (exported / "learned_palettes" / "palette-1.json").read_bytes() == b'{"k": [1.5]}'
    named = {line.split(",")[0] for line in (exported / "checksums.csv").read_text().splitlines()[1:]}
    assert named == set(contents(exported)) - {"checksums.csv"}


def test_no_cell_begins_a_formula(exported):
    for file in exported.glob("*.csv"):
        with file.open(newline="", encoding="utf-8") as opened:
            header, *lines = csv.reader(opened)
        for line in lines:
            for name, cell in zip(header, line, strict=True):
                number = name[:4] in ("var_", "cov_", "lab_") or name.endswith(("_g", "_px")) or name[0].isdigit()
                assert number or not cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n")), (file.name, name, cell)


def test_a_dry_run_tells_what_would_change_and_changes_nothing(exported, other):
    other.save_all(
        [Cement(name="White cement", tone="white", warn_below_g=2000), PigmentRecord(name="Jar 7", notes="mine")]
    )
    other.delete(other.save(PigmentRecord(uid="red-iron-oxide", name="Red")))
    before = fingerprint(other)
    report = import_library(other, exported, dry_run=True)
    assert fingerprint(other) == before
    assert other.check() == []
    changes = {change.uid: change for change in report.changed}
    assert changes["jar-7"].fields == {"notes": ("mine", "")}
    assert changes["red-iron-oxide"].from_bin
    assert report.unchanged == 1  # the cement
    assert "studio" not in report.added  # this library has a name of its own, or none, but is not empty
    assert "pigment jar-7: notes would be changed." in report.sentences()
    done = import_library(other, exported)
    assert (done.added, done.changed, done.unchanged) == (report.added, report.changed, report.unchanged)
    assert "pigment jar-7: notes were changed." in done.sentences()
    assert [v.record.notes for v in other.history(PigmentRecord(uid="jar-7", name=""))] == ["mine", ""]
    assert import_library(other, exported, dry_run=True).changed == []


def test_an_import_removes_nothing_and_leaves_the_studio_its_name(exported, other):
    other.save(Studio(name="Mine", settings={"load_cap": 0.03}))
    mine = other.save(Swatch(name="mine"))
    import_library(other, exported)
    assert other.get(Swatch, mine.uid) == mine
    assert other.get(Studio, "studio").name == "Mine"


def test_a_selection_takes_along_what_it_needs(full, other, tmp_path):
    chosen = [full.get(Swatch, "pot-1"), full.get(LearnedPalette, "palette-2")]
    import_library(other, export_library(full, tmp_path / "some.zip", chosen))
    assert [s.uid for s in other.list(Swatch)] == ["pot-1"]
    assert {s.uid for s in other.list(ShadeRecord)} == {"s-1", "s-2", "s-3", "s-4"}
    assert {c.uid for c in other.list(Cement)} == {"white-cement"}
    assert {t.uid for t in other.list(TileRecord)} == {"tile-1"}
    for kind in KINDS.values():
        for record in other.list(kind):
            assert record == full.get(kind, record.uid)
    assert other.check() == []
    assert export_library(full, tmp_path / "none.zip", [])


def test_what_is_in_the_bin_stays_at_home(full, other, tmp_path):
    full.delete(full.get(Swatch, "hostile-00"))
    import_library(other, export_library(full, tmp_path / "out"))
    assert other.find_one(Swatch, "hostile-00") is None
    assert fingerprint(other) == fingerprint(full)


def test_an_export_replaces_an_earlier_one_and_nothing_else(full, tmp_path):
    target = tmp_path / "out"
    first = contents(export_library(full, target))
    full.save(Swatch(uid="later", name="later"))
    assert contents(export_library(full, target)) != first
    (target / "thesis.txt").write_text("x")
    with pytest.raises(ExchangeError, match=r"holds other files \(thesis.txt\)"):
        export_library(full, target)
    diary = tmp_path / "diary"
    diary.mkdir()
    (diary / "README.md").write_text("Dear diary")
    with pytest.raises(ExchangeError, match=r"no library.toml"):
        export_library(full, diary)
    assert (diary / "README.md").read_text() == "Dear diary"
    pictures = tmp_path / "pictures.zip"
    with zipfile.ZipFile(pictures, "w") as other:
        other.writestr("holiday.jpg", b"sea")
    before = pictures.read_bytes()
    with pytest.raises(ExchangeError, match="not an earlier export"):
        export_library(full, pictures)
    assert pictures.read_bytes() == before
    earlier = export_library(full, tmp_path / "out.zip")
    full.save(Swatch(uid="latest", name="latest"))
    assert contents(earlier) != contents(export_library(full, earlier))
    assert {p.name for p in tmp_path.iterdir() if p.name.startswith(".")} == set()


def edit(folder, name, old, new, *, listed=False):
    """Change a file of an export by hand; unless `listed`, take its line out of the checksums."""
    file = folder / name
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new, 1), encoding="utf-8", newline="")
    if not listed:
        sums = folder / "checksums.csv"
        kept = [line for line in sums.read_text().splitlines() if not line.startswith(f"{name},")]
        sums.write_text("\n".join(kept) + "\n")


def test_a_file_edited_by_hand_is_taken_once_its_checksum_is_removed(exported, other):
    edit(exported, "cements.toml", '"White cement"', '"White cement, new name"')
    report = import_library(other, exported)
    assert report.warnings == ["cements.toml has no checksum, so damage on the way could not be noticed."]
    assert other.get(Cement, "white-cement").name == "White cement, new name"
    (exported / "cements.toml").write_bytes(b"\xef\xbb\xbf" + (exported / "cements.toml").read_bytes())
    assert import_library(other, exported).changed == []


@pytest.mark.parametrize(
    ("name", "old", "new", "sentence"),
    [
        ("cements.toml", "White", "Grey", "does not fit its checksum.*remove its line from checksums.csv"),
        ("library.toml", "format_version = 2", "format_version = 3", "newer version of the tool"),
        ("library.toml", "colormatch-library", "something", "this is something else"),
        ("library.toml", "[studio]", "[studio", "not readable TOML"),
        ("library.toml", 'name = "Invented studio"', "name = 5", "library.toml: The name of studio"),
        ("recipes.toml", 'cement_uid = "white-cement"', 'cement_uid = "lost"', "needs the cement 'lost'"),
        ("recipes.toml", 'uid = "recipe-1"', 'uid = "../recipe"', "recipes.toml, number 1: .*cannot be a uid"),
        ("recipes.toml", "name = ", "nome = ", "no field 'nome'"),
        ("designs.toml", "[[design]]", "[design]", r"must hold \[\[design\]\]"),
        ("shades.csv", "50.123456789", "fifty", "shades.csv, line .*'fifty' is not a number"),
        ("shades.csv", "50.123456789", "5000", "L\\* runs from 0 to 100"),
        ("shades.csv", "uid,swatch_uid", "uid;swatch_uid", "columns parted by commas|not understood"),
        ("shades.csv", "swatch_uid", "pot_uid", "not understood.*pot_uid"),
        ("tiles.csv", "tile-1,", "tile-1,,", "has 12 cells; the header has 11|cells; the header"),
        ("tiles.csv", "2026-03-03", "3 March", "must be a date"),
        ("swatches.csv", '[""Rust"", ""tall""]', "[", "not readable JSON"),
        ("weighings.csv", "w-2", "w-1", "two records with the uid 'w-1'"),
        ("spectra.csv", "s-3", "s-99", "spectrum of 's-99', which is no shade"),
        ("spectra.csv", "0.25", "-0.25", "spectra.csv: .*0 or more"),
        ("checksums.csv", "cements.toml", "../cements.toml", "is listed in checksums.csv but is missing"),
        ("checksums.csv", "file,sha256\n", "file,sha256\nx,y\n", "not one file and its sha256"),
    ],
)
def test_what_is_damaged_is_refused_with_its_place_and_nothing_changes(exported, other, name, old, new, sentence):
    fill(other)
    before = fingerprint(other)
    edit(exported, name, old, new, listed="checksum" in sentence)
    with pytest.raises(ExchangeError, match=sentence):
        import_library(other, exported)
    assert fingerprint(other) == before


def test_a_missing_file_is_noticed(exported, other):
    photograph = next((exported / "photographs").iterdir())
    photograph.unlink()
    with pytest.raises(ExchangeError, match=r"photographs/.* is listed in checksums.csv but is missing"):
        import_library(other, exported)
    (exported / "checksums.csv").unlink()
    with pytest.raises(ExchangeError, match=r"The photograph photographs/.* is missing"):
        import_library(other, exported)
    assert fingerprint(other) == {name: [] for name in KINDS}
    (exported / "library.toml").unlink()
    with pytest.raises(ExchangeError, match=r"no library.toml"):
        import_library(other, exported)


def test_an_import_that_fails_at_its_last_step_leaves_no_trace(exported, other, monkeypatch):
    from colormatch.library import importing

    def fails(*arguments):
        raise ExchangeError("at the very end")

    monkeypatch.setattr(importing.writing, "insert_all", fails)
    with pytest.raises(ExchangeError, match="at the very end"):
        import_library(other, exported)
    assert fingerprint(other) == {name: [] for name in KINDS}
    with other.database.reading() as connection:
        assert other.photographs.held(connection) == set()


def test_every_hostile_text_travels(exported, other):
    import_library(other, exported)
    assert [s.name for s in other.list(Swatch) if s.uid.startswith("hostile")] == HOSTILE


def test_ten_kilobyte_names_are_refused_on_import_too(exported, other):
    edit(exported, "cements.toml", "White cement", "W" * 10_240)
    with pytest.raises(ExchangeError, match="10240 characters; at most 200"):
        import_library(other, exported)


def test_days_and_numbers_survive_by_hand_written_toml(exported, other):
    """TOML's own dates and whole numbers are understood as well as text and 1.0."""
    edit(exported, "batches.toml", 'made_on = "2026-04-01"', "made_on = 2026-04-01")
    edit(exported, "batches.toml", "cement_g = 1440.0", "cement_g = 1440")
    import_library(other, exported)
    with_date = other.list(KINDS["batch"])[0]
    assert (with_date.made_on, with_date.cement_g) == (date(2026, 4, 1), 1440.0)


def test_a_folder_moved_into_a_zip_by_hand_is_understood(exported, other, tmp_path):
    shutil.make_archive(str(tmp_path / "by-hand"), "zip", tmp_path, "exported")
    import_library(other, tmp_path / "by-hand.zip")
    assert other.count(Swatch) == 1 + len(HOSTILE)


def test_a_recipe_changed_elsewhere_comes_home_as_a_new_version(full, tmp_path):
    out = export_library(full, tmp_path / "out")
    recipe = full.get(RecipeRecord, "recipe-1")
    full.save(replace(recipe, name="Changed here"))
    import_library(full, out)
    home = full.get(RecipeRecord, "recipe-1")
    assert (home, home.version) == (recipe, 3)
    assert [v.record.name for v in full.history(home)] == ["Rust", "Changed here", "Rust"]
