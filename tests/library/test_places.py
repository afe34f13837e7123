"""Photographs without their place: the position goes, the picture and all else stay; checked with Pillow's reader."""

from __future__ import annotations

import io
import re
import struct
import time
import zipfile
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, PngImagePlugin, features

from colormatch.library import Swatch, export_library, import_library, open_library
from colormatch.library.places import without_place

GPS, ORIENTATION, MODEL, DATE = 0x8825, 0x0112, 0x0110, 0x0132
PACKET = b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><exif:GPSLatitude>48,12.5N</exif:GPSLatitude></x:xmpmeta>'


def exif() -> Image.Exif:
    given = Image.Exif()
    given[ORIENTATION], given[MODEL], given[DATE] = 6, "Model 7", "2026:03:01 09:30:00"
    given.get_ifd(0x8769)[0x9003] = "2026:03:01 09:30:00"
    given.get_ifd(GPS).update({1: "N", 2: (48.0, 12.0, 31.25), 3: "E", 4: (16.0, 22.0, 11.5), 29: "2026:03:01"})
    return given


def photograph(form: str, **more: object) -> bytes:
    pixels = np.random.default_rng(3).integers(0, 256, (24, 32, 3), dtype=np.uint8)
    stream = io.BytesIO()
    Image.fromarray(pixels).save(stream, form, exif=exif().tobytes(), icc_profile=b"profile " * 20, **more)
    return stream.getvalue()


FORMS = ["JPEG", "PNG", "TIFF", *(["WEBP"] if features.check("webp") else [])]


@pytest.mark.parametrize("form", FORMS)
def test_the_position_goes_and_all_else_stays(form: str) -> None:
    given = photograph(form)
    clean = without_place(given)
    before, after = Image.open(io.BytesIO(given)), Image.open(io.BytesIO(clean))
    assert before.getexif().get_ifd(GPS)[2] == (48.0, 12.0, 31.25)
    assert not after.getexif().get_ifd(GPS)
    for tag in (ORIENTATION, MODEL, DATE):
        assert after.getexif()[tag] == before.getexif()[tag]
    assert after.getexif().get_ifd(0x8769)[0x9003] == "2026:03:01 09:30:00"
    assert after.info["icc_profile"] == before.info["icc_profile"]
    np.testing.assert_array_equal(np.asarray(after), np.asarray(before))
    assert len(clean) == len(given)
    assert b"2026:03:01\x00" not in clean.replace(b"2026:03:01 ", b"")  # the date stamp of the position


@pytest.mark.parametrize("form", FORMS)
def test_a_packet_with_the_place_goes(form: str) -> None:
    if form == "PNG":
        text = PngImagePlugin.PngInfo()
        text.add_itxt("XML:com.adobe.xmp", PACKET.decode(), zip=True)
        given = photograph(form, pnginfo=text)
    elif form == "TIFF":
        given = photograph(form, tiffinfo={700: PACKET})
    else:
        given = photograph(form, xmp=PACKET)
    clean = without_place(given)
    assert b"48,12.5N" not in clean
    assert not Image.open(io.BytesIO(clean)).info.get("XML:com.adobe.xmp")
    Image.open(io.BytesIO(clean)).load()


def test_a_packet_in_several_segments_goes_and_leaves_every_segment_where_it_was() -> None:
    packet = PACKET.replace(b"</x:xmpmeta>", b"A" * 70_000 + b"</x:xmpmeta>")
    parts = [packet[at : at + 65_000] for at in (0, 65_000)]
    heads = [b"http://ns.adobe.com/xmp/extension/\0" + b"0" * 32 + len(packet).to_bytes(4, "big") for _ in parts]
    bodies = [h + at.to_bytes(4, "big") + part for h, at, part in zip(heads, (0, 65_000), parts, strict=True)]
    photo = photograph("JPEG")
    given = photo[:2] + b"".join(b"\xff\xe1" + (len(b) + 2).to_bytes(2, "big") + b for b in bodies) + photo[2:]
    clean = without_place(given)
    assert b"48,12.5N" not in clean
    assert segments(clean) == segments(given)


def segments(jpeg: bytes) -> list[tuple[int, int]]:
    """(marker, length) of the segments before the picture itself."""
    at, found = 2, []
    while jpeg[at] == 0xFF and jpeg[at + 1] != 0xDA:
        found.append((jpeg[at + 1], int.from_bytes(jpeg[at + 2 : at + 4], "big")))
        at += 2 + found[-1][1]
    assert jpeg[at : at + 2] == b"\xff\xda"
    return found


@pytest.mark.parametrize("start", [0, 6], ids=["bare", "after the word Exif"])
def test_the_position_of_a_heic_goes(start: int) -> None:
    heif = pytest.importorskip("pillow_heif", reason="HEIC needs the extra: pip install 'colormatch[heic]'")
    stream = io.BytesIO()
    picture = Image.new("RGB", (64, 64), (90, 80, 70))
    heif.from_pillow(picture).save(stream, exif=exif().tobytes()[6 - start :])
    given = stream.getvalue()
    before, after = (heif.open_heif(io.BytesIO(each)).to_pillow() for each in (given, without_place(given)))
    assert before.getexif().get_ifd(GPS)
    assert not after.getexif().get_ifd(GPS)
    assert after.getexif()[MODEL] == "Model 7"
    np.testing.assert_array_equal(np.asarray(after), np.asarray(before))


def test_an_address_block_goes() -> None:
    given = photograph("JPEG")
    block = b"Photoshop 3.0\x008BIM\x04\x04\x00\x00\x00\x00\x00\x0c\x1c\x02\x5a\x00\x07Nowhere"
    segment = b"\xff\xed" + (len(block) + 2).to_bytes(2, "big") + block
    clean = without_place(given[:2] + segment + given[2:])
    assert b"Nowhere" not in clean
    np.testing.assert_array_equal(np.asarray(Image.open(io.BytesIO(clean))), np.asarray(Image.open(io.BytesIO(given))))


@pytest.mark.parametrize("form", FORMS)
def test_a_file_without_a_place_is_the_same_bytes_and_so_is_a_second_time(form: str) -> None:
    pixels = np.full((8, 8, 3), 90, dtype=np.uint8)
    stream = io.BytesIO()
    Image.fromarray(pixels).save(stream, form)
    assert without_place(stream.getvalue()) == stream.getvalue()
    clean = without_place(photograph(form))
    assert without_place(clean) == clean


@given(st.binary(max_size=300), st.sampled_from([b"", b"II*\0", b"MM\0*", b"\xff\xd8\xff\xe1\0\x40Exif\0\0II*\0"]))
def test_any_bytes_are_taken(tail: bytes, head: bytes) -> None:
    assert len(without_place(head + tail)) == len(head + tail)


@given(st.integers(0, 2**32), st.integers(0, 400))
def test_a_damaged_photograph_is_taken(seed: int, where: int) -> None:
    given = bytearray(photograph("JPEG"))
    rng = np.random.default_rng(seed)
    for place in rng.integers(0, 400, 8):
        given[place] = int(rng.integers(0, 256))
    assert len(without_place(bytes(given))) == len(given)


def test_a_kept_photograph_holds_no_place(tmp_path) -> None:
    with open_library(tmp_path / "library") as library:
        kept = library.store_photograph(photograph("JPEG"), file_name="pot.jpg")
        assert not Image.open(io.BytesIO(library.photograph_bytes(kept.uid))).getexif().get_ifd(GPS)
        assert library.store_photograph(photograph("JPEG")).uid == kept.uid


def test_one_that_came_in_with_a_place_is_given_away_without(tmp_path, monkeypatch) -> None:
    """From an import, or kept by an earlier version; what points at it points at the file as it is given away."""
    from colormatch.library import store

    with open_library(tmp_path / "library") as library:
        with monkeypatch.context() as patch:
            patch.setattr(store, "without_place", lambda content: content)
            kept = library.store_photograph(photograph("JPEG"), file_name="pot.jpg")
        again = library.store_photograph(photograph("JPEG"), file_name="pot.jpg")  # this one without its place
        library.save(Swatch(uid="cup", name="Cup", photographs=(kept.uid,)))
        library.save(Swatch(uid="mug", name="Mug", photographs=(again.uid,)))
        export_library(library, tmp_path / "out.zip")
        assert Image.open(io.BytesIO(library.photograph_bytes(kept.uid))).getexif().get_ifd(GPS)
    with zipfile.ZipFile(tmp_path / "out.zip") as packed:
        (name,) = [each for each in packed.namelist() if each.startswith("photographs/")]
        assert not Image.open(io.BytesIO(packed.read(name))).getexif().get_ifd(GPS)
    with open_library(tmp_path / "other") as other:
        import_library(other, tmp_path / "out.zip")
        (uid,) = other.get(Swatch, "cup").photographs
        assert other.get(Swatch, "mug").photographs == (uid,)
        assert name == f"photographs/{uid}.jpg"
        assert other.check() == []


def _tags(tag: int, many: int, pointing: int) -> bytes:
    """A TIFF directory of a thousand entries at byte 8, followed by itself."""
    entry = struct.pack("<HHII", tag, 4, many, pointing)
    return b"II*\0" + struct.pack("<IH", 8, 1000) + 1000 * entry + struct.pack("<I", 8)


HOSTILE = {
    "a PNG of metadata chunks only": lambda size: b"\x89PNG\r\n\x1a\n" + b"eXIfII*\0\x08\0\0\0\xe7\3" * (size // 14),
    "a directory that goes on with itself, of values as large as the file": lambda size: _tags(
        700, size // 4, 14_000
    ).ljust(size, b"\1"),
    "packets that never end": lambda size: b"GIF89a" + b"<x:xmpmeta" * (size // 10),
    "blocks one in another": lambda size: b"\xff\xd8" + b"\xff\xed\xff\xffPhotoshop 3.0\0" * (size // 18),
}


@pytest.mark.parametrize("kind", HOSTILE)
def test_a_file_made_to_take_long_takes_no_longer_than_its_size(kind: str) -> None:
    """Against looking at every byte once: 2 to 20 times that; 500 times and more where time grows with the square."""
    content = HOSTILE[kind](300_000)
    looking = _least(lambda: re.findall(rb"[\0-\xff]", content))
    cleaning = _least(lambda: without_place(content))
    assert len(without_place(content)) == len(content)
    assert cleaning < 100 * looking


def _least(work: Callable[[], object]) -> float:
    taken = []
    for _ in range(3):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return min(taken)
