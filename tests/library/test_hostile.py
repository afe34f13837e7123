"""Zips, folders and photographs made to do harm: refused as a whole, in words, without a trace on the disk."""

import random
import shutil
import stat
import struct
import zipfile
import zlib

import pytest
from examples import fill, fingerprint, png
from measuring import in_a_process

from colormatch.errors import LibraryError
from colormatch.library import (
    KINDS,
    ExchangeError,
    ShadeRecord,
    Swatch,
    archive,
    export_library,
    import_library,
    open_library,
    tabulated,
)


@pytest.fixture(scope="module")
def zipped(tmp_path_factory):
    folder = tmp_path_factory.mktemp("zipped")
    with open_library(folder / "from") as library:
        fill(library)
        return export_library(library, folder / "good.zip")


@pytest.fixture
def attack(zipped, sqlite_library, tmp_path):
    """Adds members to a good zip, tries to import it, and sees that nothing came of it."""

    def run(sentence, *members, without=()):
        bad = tmp_path / "bad.zip"
        with zipfile.ZipFile(zipped) as source, zipfile.ZipFile(bad, "w") as target:
            for member in source.infolist():
                if member.filename not in without:
                    target.writestr(member, source.read(member))
            for member, content in members:
                target.writestr(member, content, compress_type=zipfile.ZIP_DEFLATED)
        attempt(bad, sentence)

    def attempt(bad, sentence):
        before = everything_below(tmp_path)
        with pytest.raises(ExchangeError, match=sentence) as caught:
            import_library(sqlite_library, bad)
        assert len(str(caught.value)) < 500
        assert everything_below(tmp_path) == before
        assert fingerprint(sqlite_library) == {name: [] for name in KINDS}

    run.attempt = attempt
    return run


def everything_below(folder):
    return sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if ".sqlite" not in p.name)


def test_the_zip_is_good_before_it_is_tampered_with(zipped, sqlite_library):
    assert import_library(sqlite_library, zipped).warnings == []


@pytest.mark.parametrize(
    "name",
    [
        "../evil.txt",
        "photographs/../../evil.txt",
        "/etc/evil.txt",
        "//server/share/evil.txt",
        "C:/evil.txt",
        "C:evil.txt",
        "..\\evil.txt",
        "photographs\\..\\..\\evil.txt",
        "evil\n.txt",
        "\u202egpj.live",
        "a" * 300,
    ],
)
def test_names_that_lead_outside(attack, name):
    attack("could lead outside", (name, b"evil"))


def test_a_name_cut_short_by_a_nul(attack, zipped, tmp_path):
    bad = tmp_path / "bad.zip"
    shutil.copy(zipped, bad)
    with zipfile.ZipFile(bad, "a") as target:
        target.writestr("moulds.toml~.exe", b"")
    bad.write_bytes(bad.read_bytes().replace(b"moulds.toml~", b"moulds.toml\x00"))
    attack.attempt(bad, "could lead outside")


@pytest.mark.parametrize("kind", [stat.S_IFLNK, stat.S_IFIFO, stat.S_IFCHR, stat.S_IFBLK, stat.S_IFSOCK])
def test_links_and_devices(attack, kind):
    member = zipfile.ZipInfo("photographs/link")
    member.create_system = 3
    member.external_attr = (kind | 0o777) << 16
    attack("a link or a device", (member, b"/etc/passwd"))


HEAD = 'format = "colormatch-library"\nformat_version = 1\n'


@pytest.mark.parametrize(
    "text",
    [
        HEAD + "x = " + "[" * 20_000 + "]" * 20_000,
        HEAD + "x = " + "{a = " * 5_000 + "1" + "}" * 5_000,
        HEAD + "x = " + "9" * 10_000,
        HEAD.replace("= 1", "= -3"),
    ],
    ids=["lists in lists", "tables in tables", "an endless number", "a version below one"],
)
def test_a_head_that_no_export_writes(attack, text):
    attack("library.toml", ("library.toml", text), without=("library.toml", "checksums.csv"))


@pytest.mark.parametrize(
    "text",
    [
        ".".join(["a"] * 30_000) + " = 1",
        "x = { " + ".".join(["a"] * 30_000) + " = 1 }",
        "[" + ".".join(["'a'"] * 30_000) + "]",
        "x = [" + "1," * 400_000 + "]",
        "x = 1\n" * 400_000,
        "x = '" + "y" * 9_000_000 + "'",
    ],
    ids=["dotted key", "dotted key inside", "dotted table", "endless list", "endless lines", "endless text"],
)
def test_toml_that_its_reader_would_take_for_ever_over(text):
    with pytest.raises(ExchangeError, match=r"moulds\.toml has .* keys of at most 50 parts"):
        tabulated.toml_content(text, "moulds.toml")


def test_a_csv_of_a_million_lines():
    lines = "uid,name\n" + "".join(f"s{i},x\n" for i in range(1_000_000))
    with pytest.raises(ExchangeError, match=r"swatches\.csv has more than 100000 lines"):
        tabulated.from_csv(Swatch, lines, "swatches.csv")


def test_more_records_in_all_than_a_library_is_made_for(attack, monkeypatch):
    monkeypatch.setattr("colormatch.library.tabulated.MOST_LINES", 60)
    attack("more than 60 records|more than 60 lines")


@pytest.mark.parametrize(
    ("name", "old", "new", "sentence"),
    [
        (
            "tiles.csv",
            ",0.02,",
            ",1.0,",
            r"tiles.csv, line 2: .* tile-1: .*A load is a share: 2 % is 0.02",
        ),
        ("shades.csv", ",dry,", ",moist,", r"shades.csv, line \d+: The shade .*'moist'"),
        ("spectra.csv", "400,410.5,700\ns-3,0.1,0.25,0.6", "550\ns-3,0.5", "spectra.csv: .*wavelengths must increase"),
        ("spectra.csv", "s-3,0.1,0.25,0.6", "s-3,0.1", "spectra.csv, line 2: it must have a cell for each of the 3"),
        ("spectra.csv", "s-3,0.1,0.25,0.6", "s-3,0.1,0.25,0.6\ns-3,0.1,0.25,0.6", "spectra.csv, line 3: .*comes once"),
        ("moulds.toml", "volume_ml = 690.0", "volume_ml = 1e8", "moulds.toml, number 1: .*0.1 to 100000"),
    ],
)
def test_a_record_that_would_lock_the_maker_out_is_refused_with_its_place(attack, zipped, name, old, new, sentence):
    with zipfile.ZipFile(zipped) as source:
        text = source.read(name).decode()
    assert old in text, text
    attack(sentence, (name, text.replace(old, new)), without=(name, "checksums.csv"))


def test_a_long_cell_that_is_exported_can_be_imported(sqlite_library, tmp_path):
    with open_library(tmp_path / "from") as library:
        pot = library.save(Swatch(name="x"))
        long = {"said": [["y" * 190_000] * 2, "z"]}
        shade = library.save(ShadeRecord(swatch_uid=pot.uid, lab=(50, 0, 0), provenance=long))
        import_library(sqlite_library, export_library(library, tmp_path / "out.zip"))
    assert sqlite_library.get(ShadeRecord, shade.uid).provenance == long


def damaged(content, rng):
    """The bytes of a zip with a part cut off, scratched, doubled or put in."""
    place, length = rng.randrange(len(content)), rng.choice([1, 1, 4, 100, 5000])
    cut, part, rest = content[:place], content[place : place + length], content[place + length :]
    scratched = bytes(b ^ 85 for b in part)
    return cut + rng.choice([b"", scratched + rest, part + part + rest, rng.randbytes(length) + rest])


def try_damaged_zips(path, folder, tries, seed):
    """The sentences that damaged zips were refused with; anything but a sentence is raised."""
    rng, content, sentences = random.Random(seed), path.read_bytes(), []
    bad = folder / "bad.zip"
    with open_library(folder / "into") as library:
        for number in range(tries):
            bad.write_bytes(damaged(content, rng))
            try:
                import_library(library, bad, dry_run=number % 2 == 0)
            except LibraryError as error:
                sentences.append(str(error))
    return sentences


@pytest.mark.measure
def test_300_damaged_zips_take_little_time_and_memory(zipped, tmp_path, figure):
    sentences, seconds, gigabytes = in_a_process(try_damaged_zips, zipped, tmp_path, 300, 11)
    told = f"{len(sentences)} refused in a sentence, the others read; {seconds:.0f} s in all"
    figure("trust.zips", "300 damaged exchange zips: most memory", gigabytes, "GB", target="<= 1", beside=told)
    assert len(sentences) > 200
    assert max(map(len, sentences)) < 1000
    assert gigabytes < 1


def test_two_files_of_one_name(attack):
    with pytest.warns(UserWarning, match="Duplicate name"):
        attack("two files of one name", ("cements.toml", b""))


def test_a_bomb_that_says_what_it_is(attack):
    attack("would swell", ("weighings.csv", b"0" * 50_000_000), without=["weighings.csv"])


def test_a_bomb_that_lies_about_its_size(attack, zipped, tmp_path, monkeypatch):
    """The header says 100 bytes; what is unpacked is counted, not taken on trust."""
    monkeypatch.setattr(archive, "MOST_TEXT", 2**20)
    content = b"uid\n" + b"0" * (4 * 2**20)
    packed = zlib.compressobj(9, zlib.DEFLATED, -15)
    body = packed.compress(content) + packed.flush()
    bad = tmp_path / "lying.zip"
    shutil.copy(zipped, bad)
    with zipfile.ZipFile(bad, "a") as target:
        member = zipfile.ZipInfo("notes.csv")
        member.compress_type = zipfile.ZIP_DEFLATED
        target.writestr(member, content)
    data = bytearray(bad.read_bytes())
    true_size = struct.pack("<I", len(content))
    assert data.count(true_size) >= 2
    data = data.replace(true_size, struct.pack("<I", 100))
    bad.write_bytes(data)
    assert len(body) < len(content) / 200
    with zipfile.ZipFile(bad) as opened:
        assert opened.getinfo("notes.csv").file_size == 100
    with pytest.raises(ExchangeError, match=r"damaged|larger"), archive.opened(bad, "library.toml") as source:
        source.read("notes.csv", 2**20)


def test_a_bomb_of_many_small_parts(zipped, monkeypatch):
    monkeypatch.setattr(archive, "MOST_UNPACKED", 0)
    with pytest.raises(ExchangeError, match="unpacks to more than"), archive.opened(zipped, "library.toml"):
        pass


def test_too_many_files(zipped, monkeypatch):
    monkeypatch.setattr(archive, "MOST_FILES", 5)
    with pytest.raises(ExchangeError, match="at most 5"), archive.opened(zipped, "library.toml"):
        pass


def test_a_zip_within_a_zip_and_strange_files_are_left_aside(zipped, sqlite_library, tmp_path):
    bad = tmp_path / "more.zip"
    shutil.copy(zipped, bad)
    with zipfile.ZipFile(bad, "a") as target:
        target.writestr("inner.zip", zipped.read_bytes())
        target.writestr("evil.py", b"raise SystemExit")
        target.writestr("CEMENTS.toml", b"")  # another name: nothing is written to a disk where they would be one
    warnings = import_library(sqlite_library, bad).warnings
    assert any("evil.py is not part of the format" in warning for warning in warnings)
    assert any("inner.zip is not part" in warning for warning in warnings)


def test_wrong_checksums(attack, zipped):
    with zipfile.ZipFile(zipped) as source:
        sums = source.read("checksums.csv").decode()
    wrong = sums.replace("README.md,", "README.md,0", 1)
    attack("not one file and its sha256", ("checksums.csv", wrong), without=["checksums.csv"])
    attack("README.md does not fit its checksum", ("README.md", b"other"), without=["README.md"])


def test_encrypted_members(attack, zipped, tmp_path):
    data = bytearray(zipped.read_bytes())
    for signature, flags_at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        place = data.find(signature)
        data[place + flags_at] |= 1
    bad = tmp_path / "bad.zip"
    bad.write_bytes(data)
    attack.attempt(bad, "encrypted")


def test_truncated_and_scrambled_zips_never_crash(zipped, sqlite_library, tmp_path):
    data = zipped.read_bytes()
    bad = tmp_path / "bad.zip"
    damaged = [data[: len(data) * part // 20] for part in range(20)]
    for place in range(0, len(data), len(data) // 60):
        damaged.append(data[:place] + bytes([data[place] ^ 0xFF]) + data[place + 1 :])
    refused = 0
    for each in damaged:
        bad.write_bytes(each)
        try:
            import_library(sqlite_library, bad, dry_run=True)
        except ExchangeError:
            refused += 1
    assert refused >= 60  # a flipped bit may fall on a date or a file's rights, which nothing depends on


def test_links_in_a_folder(zipped, sqlite_library, tmp_path):
    folder = tmp_path / "folder"
    with zipfile.ZipFile(zipped) as source:
        source.extractall(folder)
    secret = tmp_path / "secret"
    secret.write_text("x")
    (folder / "moulds.toml").unlink()
    (folder / "moulds.toml").symlink_to(secret)
    with pytest.raises(ExchangeError, match="is a link"):
        import_library(sqlite_library, folder)
    (folder / "moulds.toml").unlink()
    shutil.rmtree(folder / "photographs")
    (folder / "photographs").symlink_to(tmp_path)
    with pytest.raises(ExchangeError, match="is a link"):
        import_library(sqlite_library, folder)


def test_what_is_neither_folder_nor_zip(sqlite_library, tmp_path):
    (tmp_path / "text").write_text("x")
    for path in (tmp_path / "text", tmp_path / "nowhere", tmp_path):
        with pytest.raises(ExchangeError, match=r"neither a folder nor a zip|no library.toml"):
            import_library(sqlite_library, path)


def test_a_photograph_that_is_none_or_another(attack, zipped):
    with zipfile.ZipFile(zipped) as source:
        sums = source.read("checksums.csv").decode()
        name = next(n for n in source.namelist() if n.startswith("photographs/"))
    without_line = "".join(line for line in sums.splitlines(True) if not line.startswith(name))
    attack(
        "is not the photograph its name says",
        (name, png(9)),
        ("checksums.csv", without_line),
        without=[name, "checksums.csv"],
    )


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"not a picture",
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"\xff\xd8\xff\xe0" + random.Random(1).randbytes(50),
        b"\x89PNG\r\n\x1a\n" + random.Random(2).randbytes(50),
        b"GIF89a" + bytes(50),
        b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n",
    ],
)
def test_what_is_no_photograph_is_not_stored(sqlite_library, content):
    with pytest.raises(LibraryError, match=r"not a photograph|has 0 bytes"):
        sqlite_library.store_photograph(content)


def test_a_picture_bomb_is_refused_by_its_header(sqlite_library):
    """A PNG that says it is 50 000 x 50 000: refused before a pixel is unpacked."""
    data = bytearray(png())
    data[16:24] = struct.pack(">II", 50_000, 50_000)
    data[29:33] = struct.pack(">I", zlib.crc32(data[12:29]))
    with pytest.raises(LibraryError, match=r"megapixels|not a photograph"):
        sqlite_library.store_photograph(bytes(data))


def test_a_photograph_with_damaged_pixels_gives_a_sentence_instead_of_a_thumbnail(sqlite_library):
    whole = png(size=(400, 400))
    kept = sqlite_library.store_photograph(whole[: len(whole) // 2])
    with pytest.raises(LibraryError, match="its pixels cannot"):
        sqlite_library.thumbnail_bytes(kept.uid)
