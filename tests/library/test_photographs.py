"""The file store: kept once, unchanged, consistent with its rows; thumbnails."""

import errno
import hashlib
import io
import sys

import pytest
from PIL import Image
from sqlalchemy import event

from colormatch.errors import LibraryError
from colormatch.library import DiskFullError, NotInLibrary, Photograph, Swatch


@pytest.mark.parametrize("form", ["JPEG", "PNG", "TIFF", "WEBP"])
def test_a_photograph_comes_back_byte_for_byte(library, jpeg, form):
    content = jpeg(3, form)
    record = library.store_photograph(content, file_name="pot.jpg")
    assert record.uid == hashlib.sha256(content).hexdigest()
    assert (record.media_type, record.width_px, record.height_px) == (f"image/{form.lower()}", 24, 16)
    assert record.size_bytes == len(content)
    assert library.photograph_bytes(record.uid) == content
    assert library.check() == []


def test_a_heic_is_kept_though_none_was_opened_before(library, monkeypatch):
    heif = pytest.importorskip("pillow_heif", reason="HEIC needs the extra: pip install 'colormatch[heic]'")
    out = io.BytesIO()
    heif.from_pillow(Image.new("RGB", (24, 16), (200, 90, 60))).save(out)
    monkeypatch.delitem(Image.OPEN, "HEIF", raising=False)
    record = library.store_photograph(out.getvalue())
    assert (record.media_type, record.width_px, record.height_px) == ("image/heif", 24, 16)
    assert library.thumbnail_bytes(record.uid)[:2] == b"\xff\xd8"


def test_a_heic_without_its_package_is_refused_with_what_to_install(library, monkeypatch):
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    with pytest.raises(LibraryError, match="pip install pillow-heif"):
        library.store_photograph(bytes(4) + b"ftypheic" + bytes(60))


def test_the_same_photograph_is_kept_once(library, jpeg):
    first = library.store_photograph(jpeg(), notes="first")
    assert library.store_photograph(jpeg(), notes="second") == first
    library.delete(first)
    assert library.store_photograph(jpeg()) == first
    assert library.bin() == []
    with library.database.reading() as connection:
        assert library.photographs.held(connection) == {first.uid}


def test_emptying_the_bin_removes_the_file_and_only_that(library, jpeg):
    gone, kept = library.store_photograph(jpeg(1)), library.store_photograph(jpeg(2))
    library.thumbnail_bytes(gone.uid)
    library.delete(gone)
    library.empty_bin()
    with library.database.reading() as connection:
        assert library.photographs.held(connection) == {kept.uid}
    with pytest.raises(NotInLibrary, match="no photograph"):
        library.photograph_bytes(gone.uid)
    if library.folder:
        assert list((library.folder / "thumbnails").iterdir()) == []


def test_a_photograph_in_use_stays(library, jpeg):
    photograph = library.store_photograph(jpeg())
    library.save(Swatch(name="Pot", photographs=[photograph.uid]))
    with pytest.raises(LibraryError, match="used by the swatch 'Pot'"):
        library.delete(photograph)


def test_leftovers_of_an_interrupted_write_are_swept(sqlite_library, jpeg):
    kept = sqlite_library.store_photograph(jpeg())
    folder = sqlite_library.folder / "photographs"
    (folder / "ab").mkdir()
    (folder / "ab" / ("ab" + "0" * 62)).write_bytes(b"never named by a row")
    (folder / "ab" / ".part-123").write_bytes(b"half")
    assert sqlite_library.check() == []
    sqlite_library.empty_bin()
    assert [path.name for path in folder.glob("*/*")] == [kept.uid]


def test_a_damaged_or_missing_file_is_found_out(sqlite_library, jpeg):
    first, second = sqlite_library.store_photograph(jpeg(1)), sqlite_library.store_photograph(jpeg(2))
    folder = sqlite_library.folder / "photographs"
    (folder / first.uid[:2] / first.uid).write_bytes(b"scratched")
    (folder / second.uid[:2] / second.uid).unlink()
    wrong = sorted(sqlite_library.check())
    assert any("is damaged" in sentence for sentence in wrong)
    assert any("There is no photograph" in sentence for sentence in wrong)
    with pytest.raises(LibraryError, match="Restore it from a backup"):
        sqlite_library.photograph_bytes(first.uid)


def test_a_thumbnail_is_small_and_upright(library):
    turned = Image.new("RGB", (800, 400), (200, 30, 30))
    exif = Image.Exif()
    exif[0x0112] = 6  # EXIF 2.32, Orientation: to be turned by a quarter
    out = io.BytesIO()
    turned.save(out, "JPEG", exif=exif)
    record = library.store_photograph(out.getvalue())
    for _ in range(2):  # made, and kept
        with Image.open(io.BytesIO(library.thumbnail_bytes(record.uid))) as small:
            assert small.size == (160, 320)


def test_uids_lead_nowhere_but_into_the_store(library):
    for uid in ("../../library.sqlite", "/etc/passwd", "", "0" * 64):
        with pytest.raises(LibraryError, match="There is no photograph"):
            library.photograph_bytes(uid)
        with pytest.raises(LibraryError, match=r"cannot be a uid|There is no photograph"):
            library.thumbnail_bytes(uid)


def test_the_record_of_a_photograph_can_be_edited(library, jpeg):
    from dataclasses import replace

    record = library.store_photograph(jpeg())
    edited = library.save(replace(record, notes="window light"))
    assert library.get(Photograph, record.uid).notes == "window light"
    assert edited.version == 2


def test_a_bin_that_could_not_be_emptied_keeps_its_photographs(sqlite_library, jpeg):
    """The disk is full at the very last moment, when the rows are gone but not yet for good."""
    record = sqlite_library.store_photograph(jpeg())
    sqlite_library.delete(record)

    def full(connection):
        raise OSError(errno.ENOSPC, "No space left on device")

    event.listen(sqlite_library.database._engine, "commit", full)
    with pytest.raises(DiskFullError, match="no room left on the disk"):
        sqlite_library.empty_bin()
    event.remove(sqlite_library.database._engine, "commit", full)
    back = sqlite_library.restore(record)
    assert sqlite_library.photograph_bytes(back.uid) == jpeg()
    assert sqlite_library.check() == []
