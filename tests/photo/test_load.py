"""Opening photographs: upright, in known colours, within limits, or refused with a plain sentence."""

from __future__ import annotations

import io
import sys
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageCms, features

from colormatch.colorimetry import srgb_decode
from colormatch.errors import PhotoError
from colormatch.photo import load_picture, measure_photo, picture_facts, preview_image
from colormatch.photo.bit_depth import deep_picture
from colormatch.photo.orientation import upright
from colormatch.photo.sampling import sample_region
from tests.worlds.camera import Scene, photograph, smooth_spectra
from tests.worlds.scenes import tile


def saved(image: Image.Image, kind: str = "PNG", **options: object) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, kind, **options)
    return buffer.getvalue()


def flat(colour: tuple[int, ...], mode: str = "RGB", size: tuple[int, int] = (40, 30)) -> Image.Image:
    return Image.new(mode, size, colour)


@pytest.fixture(scope="module")
def phone_jpeg() -> bytes:
    scene = Scene((160, 120), (tile("tile", (20, 20, 90, 80), smooth_spectra(4, 1)[0]),))
    return photograph(scene, "camera-a", "daylight", 3)[0]


@pytest.mark.parametrize("orientation", [1, 6, 3])
def test_a_large_jpeg_is_decoded_smaller_and_keeps_its_coordinates(orientation: int) -> None:
    """Sixteen even fields; and one side odd, so that half of it is no whole number of pixels."""
    fields = np.random.default_rng(1).integers(30, 220, (4, 4, 3)).astype(np.uint8)
    stored = Image.fromarray(fields).resize((4400, 1203), Image.Resampling.NEAREST)
    large = load_picture(saved(stored, "JPEG", quality=95, subsampling=0, exif=_exif(orientation)))
    width, height = large.size
    assert (width, height) == ((4400, 1203) if orientation < 5 else (1203, 4400))
    assert large.pixels(factor=2).shape == (height // 2, width // 2, 3)
    seen = upright(fields, orientation).astype(int)
    for (row, column), wanted in zip(np.ndindex(4, 4), seen.reshape(-1, 3), strict=True):
        # To the last pixels but three: where fields meet, a JPEG smears.
        x0, x1 = (round(width / 4 * (column + end)) for end in (0, 1))
        y0, y1 = (round(height / 4 * (row + end)) for end in (0, 1))
        box = (x0 + 3, y0 + 3, x1 - 3, y1 - 3)
        for step in (1, 7):
            assert np.abs(large.picked(box, step) - wanted).max() <= 6
            assert np.abs(large.pixels(box, step) - wanted).max() <= 6


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_orientation_comes_out_upright(orientation: int) -> None:
    scene = Scene((64, 48), (tile("tile", (4, 4, 24, 20), np.full(31, 0.9), pits=0),))
    straight = load_picture(photograph(scene, seed=1)[0]).pixels()
    turned = load_picture(photograph(scene, seed=1, orientation=orientation)[0])
    assert turned.size == (64, 48)
    assert np.abs(turned.pixels().astype(int) - straight).mean() < 1.0
    box = (2, 3, 30, 21)
    assert np.array_equal(turned.pixels(box), turned.pixels()[3:21, 2:30])
    middles = turned.pixels()[5:21:5, 4:30:5][:3, :5]  # of lots of 5 x 5 pixels from the upper left corner
    assert np.array_equal(turned.picked(box, 5), middles)


def test_path_and_bytes_give_the_same(tmp_path: Path, phone_jpeg: bytes) -> None:
    file = tmp_path / "pot.jpg"
    file.write_bytes(phone_jpeg)
    assert np.array_equal(load_picture(file).pixels(), load_picture(phone_jpeg).pixels())
    assert picture_facts(str(file)) == picture_facts(phone_jpeg)


def test_facts_from_the_header(phone_jpeg: bytes) -> None:
    facts = picture_facts(phone_jpeg)
    assert (facts.width, facts.height, facts.kind) == (160, 120, "JPEG")
    assert facts.model == "Invented Camera-A"
    assert facts.taken_on == "2026:06:01 10:00:00"


def display_p3() -> bytes:
    """A matrix profile with the primaries of SMPTE EG 432-1 (P3) on D65, sRGB curve, made by hand:
    columns adapted to D50 by Bradford, as printed in the ICC registry's Display P3."""
    import struct

    columns = {
        b"rXYZ": (0.51512, 0.24120, -0.00105),
        b"gXYZ": (0.29198, 0.69225, 0.04189),
        b"bXYZ": (0.15710, 0.06657, 0.78407),
    }
    curve = b"para" + bytes(4) + struct.pack(">HH", 3, 0)
    curve += struct.pack(">5i", *(round(v * 65536) for v in (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)))
    tags = {}
    for key, xyz in columns.items():
        tags[key] = b"XYZ " + bytes(4) + struct.pack(">3i", *(round(v * 65536) for v in xyz))
    tags |= dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), curve)
    name = b"Invented wide"
    tags[b"desc"] = b"desc" + bytes(4) + struct.pack(">I", len(name) + 1) + name + bytes(1 + 78)
    body, entries, start = b"", b"", 132 + 12 * len(tags)
    for key, data in tags.items():
        data += bytes(-len(data) % 4)
        entries += struct.pack(">4sII", key, start + len(body), len(data))
        body += data
    header = bytearray(128)
    header[8:12], header[12:16] = bytes([4, 0x30, 0, 0]), b"mntr"
    header[16:20], header[20:24], header[36:40] = b"RGB ", b"XYZ ", b"acsp"
    header[68:80] = struct.pack(">3i", 63190, 65536, 54061)
    whole = bytes(header) + struct.pack(">I", len(tags)) + entries + body
    return struct.pack(">I", len(whole)) + whole[4:]


def test_wide_gamut_profile_is_honoured_as_littlecms_does() -> None:
    profile = display_p3()
    rng = np.random.default_rng(1)
    colours = rng.integers(60, 200, (6, 6, 3), dtype=np.uint8)
    picture = load_picture(saved(Image.fromarray(colours), icc_profile=profile))
    ours = picture.linear(picture.pixels())
    source, srgb = ImageCms.ImageCmsProfile(io.BytesIO(profile)), ImageCms.createProfile("sRGB")
    theirs = ImageCms.profileToProfile(Image.fromarray(colours), source, srgb, renderingIntent=1)
    from colormatch.colorimetry import srgb_decode

    inside = (ours > 0.002).all(axis=-1) & (ours < 0.99).all(axis=-1)
    assert inside.sum() > 20
    assert np.abs(ours - srgb_decode(np.asarray(theirs) / 255))[inside].max() < 0.008
    assert picture.facts.profile == "Invented wide"
    assert not picture.warnings


def test_srgb_profile_changes_nothing() -> None:
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    plain, tagged = (load_picture(saved(flat((180, 90, 40)), **o)) for o in ({}, {"icc_profile": srgb}))
    assert np.allclose(plain.linear(plain.pixels()), tagged.linear(tagged.pixels()), atol=2e-3)


def test_unknown_profile_is_named_and_warned_about() -> None:
    picture = load_picture(saved(flat((10, 200, 30)), icc_profile=b"nonsense" * 40))
    assert "colour profile" in picture.warnings[0]


def test_sixteen_bit_grey_is_not_turned_white() -> None:
    values = np.full((20, 20), 32768, dtype=np.uint16)
    picture = load_picture(saved(Image.fromarray(values)))
    assert picture.grey
    assert abs(int(picture.pixels()[0, 0, 0]) - 128) <= 1


def sixteen_bit_png(values: np.ndarray, orientation: int = 1) -> bytes:
    """A 16-bit RGB PNG by hand (PNG specification, third edition, clauses 5 and 11): Pillow writes none."""
    import struct

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows, columns, _ = values.shape
    lines = b"".join(b"\0" + values[row].astype(">u2").tobytes() for row in range(rows))
    head = struct.pack(">IIBBBBB", columns, rows, 16, 2, 0, 0, 0)
    notes = chunk(b"eXIf", _exif(orientation).tobytes().removeprefix(b"Exif\0\0"))
    data = notes + chunk(b"IDAT", zlib.compress(lines)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + data


def test_sixteen_bit_colour_keeps_its_level() -> None:
    values = np.full((12, 16, 3), (40000, 20000, 10000), dtype=np.uint16)
    pixel = load_picture(sixteen_bit_png(values)).pixels()[5, 5].astype(int)
    assert np.abs(pixel - np.array([40000, 20000, 10000]) / 257).max() <= 1


@pytest.mark.parametrize("kind", ["PNG", "TIFF"])
def test_sixteen_bit_colour_is_measured_in_full_depth(kind: str) -> None:
    """A dark colour half a step of 8 bits from the codes on either side."""
    value = np.array([5000.0, 4000.0, 3000.0])
    pixels = np.full((32, 32, 3), value, dtype=np.uint16)
    picture = load_picture((sixteen_bit_png if kind == "PNG" else sixteen_bit_tiff)(pixels))
    assert not picture.lost_depth
    sample = sample_region(picture, np.array([[2.0, 2], [30, 2], [30, 30], [2, 30]]))
    assert np.allclose(sample.rgb, srgb_decode(value / 65535), rtol=1e-3)
    assert sample.rounding < 1e-3
    assert np.allclose(picture.picked((3, 5, 20, 21), 5)[..., 1], 4000 / 257, atol=0.01)


@pytest.mark.parametrize("kind", ["PNG", "TIFF"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_turned_picture_is_measured_in_full_depth(kind: str, orientation: int) -> None:
    """Each pixel of it half a step of 8 bits from the codes on either side."""
    stored = 257 * np.random.default_rng(orientation).integers(10, 90, (40, 30, 3)) + 128
    write = sixteen_bit_png if kind == "PNG" else sixteen_bit_tiff
    picture = load_picture(write(stored.astype(np.uint16), orientation))
    assert picture.size == ((30, 40) if orientation < 5 else (40, 30))
    assert not picture.lost_depth
    assert np.allclose(picture.picked((0, 0, *picture.size)), upright(stored, orientation) / 257, atol=0.01)


def test_a_picture_that_another_decoder_sees_otherwise_stays_at_eight_bits() -> None:
    values = np.full((32, 32, 3), 5000, dtype=np.uint16)
    eight = load_picture(sixteen_bit_png(values)).pixels()
    assert deep_picture(sixteen_bit_png(values), "PNG", 16, 1, eight, 1) is not None
    assert deep_picture(sixteen_bit_png(2 * values), "PNG", 16, 1, eight, 1) is None
    assert deep_picture(b"no picture", "PNG", 16, 1, eight, 1) is None


def test_sixteen_bit_colour_is_read_at_eight_without_its_library_and_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """A dark, even piece in a 16-bit PNG or TIFF; not a light one, nor the same in a file of 8 bits."""
    monkeypatch.setitem(sys.modules, "cv2", None)

    def notes(data: bytes) -> str:
        return " ".join(measure_photo(data, region=(2, 2, 30, 30), reference=None).warnings)

    dark, light = (np.full((32, 32, 3), v, dtype=np.uint16) for v in ((5000, 4000, 3000), (40000, 30000, 20000)))
    assert load_picture(sixteen_bit_png(dark)).lost_depth
    assert "8 bits a channel" in notes(sixteen_bit_png(dark))
    assert "8 bits a channel" in notes(sixteen_bit_tiff(dark))
    assert "8 bits a channel" not in notes(sixteen_bit_png(light))
    assert "8 bits a channel" not in notes(saved(Image.fromarray((dark >> 8).astype(np.uint8))))


def sixteen_bit_tiff(values: np.ndarray, orientation: int = 1) -> bytes:
    """An uncompressed 16-bit RGB TIFF by hand (TIFF 6.0, section 6): Pillow writes none."""
    import struct

    rows, columns, _ = values.shape
    body = values.astype("<u2").tobytes()
    tags = [(256, 3, columns), (257, 3, rows), (258, 3, 8 + len(body)), (259, 3, 1), (262, 3, 2), (273, 4, 8)]
    tags += [(274, 3, orientation), (277, 3, 3), (278, 3, rows), (279, 4, len(body))]
    entries = b"".join(struct.pack("<HHII", tag, kind, 3 if tag == 258 else 1, value) for tag, kind, value in tags)
    depths = struct.pack("<3H", 16, 16, 16)
    folder = struct.pack("<H", len(tags)) + entries + bytes(4)
    return struct.pack("<2sHI", b"II", 42, 8 + len(body) + len(depths)) + body + depths + folder


def test_cmyk_is_refused() -> None:
    with pytest.raises(PhotoError, match="CMYK"):
        load_picture(saved(flat((0, 100, 200, 10), "CMYK"), "JPEG"))


def test_transparency_is_warned_about() -> None:
    assert "see-through" in load_picture(saved(flat((200, 100, 50, 90), "RGBA"))).warnings[0]
    assert not load_picture(saved(flat((200, 100, 50, 255), "RGBA"))).warnings


def test_only_the_first_of_several_pictures() -> None:
    frames = [flat((200, 0, 0)).quantize(), flat((0, 0, 200)).quantize()]
    picture = load_picture(saved(frames[0], "GIF", save_all=True, append_images=frames[1:]))
    assert "only the first" in picture.warnings[0]
    assert picture.pixels()[3, 3, 0] > 190


def test_black_and_white_cannot_be_measured() -> None:
    with pytest.raises(PhotoError, match="black and white"):
        measure_photo(saved(flat((90,), "L")), region=(5, 5, 20, 20), reference=None)


def test_size_limit_is_read_from_the_header() -> None:
    big = bytearray(sixteen_bit_png(np.zeros((2, 2, 3), dtype=np.uint16)))
    big[16:24] = (8001).to_bytes(4, "big") + (8000).to_bytes(4, "big")
    big[29:33] = zlib.crc32(bytes(big[12:29])).to_bytes(4, "big")
    for call in (picture_facts, load_picture):
        with pytest.raises(PhotoError, match="at most 64"):
            call(bytes(big))


def test_truncated_is_refused(phone_jpeg: bytes) -> None:
    with pytest.raises(PhotoError, match="damaged or cut short"):
        load_picture(phone_jpeg[: len(phone_jpeg) // 2])


@pytest.mark.parametrize(
    ("source", "words"),
    [
        (b"", "empty"),
        (b"hello, not a picture", "not a picture"),
        ("no/such/file.jpg", "could not be read"),
        (7, "path or as bytes"),
    ],
)
def test_what_is_no_picture_is_refused(source: object, words: str) -> None:
    with pytest.raises(PhotoError, match=words):
        load_picture(source)  # type: ignore[arg-type]


def test_heic_without_its_package_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    with pytest.raises(PhotoError, match="pillow-heif"):
        load_picture(bytes(4) + b"ftypheic" + bytes(60))


def test_preview_is_upright_and_small() -> None:
    wide = saved(flat((90, 120, 60), size=(900, 400)), "JPEG", exif=_exif(6))
    preview = preview_image(wide, longest=300)
    assert preview.size == (133, 300)
    assert preview.mode == "RGB"


def _exif(orientation: int) -> Image.Exif:
    exif = Image.Exif()
    exif[0x0112] = orientation
    return exif


def test_orientation_in_png_and_tiff() -> None:
    marked = np.zeros((20, 30, 3), dtype=np.uint8)
    marked[:5, :5] = 250  # stored upper left; turned clockwise it stands upper right
    for kind in ("PNG", "TIFF", "WEBP"):
        options = {"lossless": True} if kind == "WEBP" else {}
        picture = load_picture(saved(Image.fromarray(marked), kind, exif=_exif(6), **options))
        assert picture.size == (20, 30), kind
        assert picture.pixels()[1, 18, 0] > 200, kind
        assert picture_facts(saved(Image.fromarray(marked), kind, exif=_exif(6), **options)).width == 20, kind


def refusals(tries: int, seed: int, phone_jpeg: bytes) -> list[str]:
    """What damaged files of ten kinds are refused with (bytes changed, cut out, swapped, cut off); the others open."""
    rng = np.random.default_rng(seed)
    picture = Image.fromarray(rng.integers(0, 255, (24, 32, 3), dtype=np.uint8))
    whole = [
        phone_jpeg,
        saved(picture, icc_profile=display_p3(), exif=_exif(6)),
        saved(picture, "TIFF", exif=_exif(8)),
        saved(picture, "TIFF", compression="tiff_lzw"),
        saved(picture, "WEBP"),
        saved(picture, "GIF"),
        saved(picture, "BMP"),
        saved(picture, "AVIF" if features.check("avif") else "WEBP"),
        saved(picture, "JPEG", progressive=True),
        sixteen_bit_png(rng.integers(0, 65535, (9, 9, 3)).astype(np.uint16)),
    ]
    refused: list[str] = []
    for number in range(tries):
        data = bytearray(whole[number % len(whole)])
        at = int(rng.integers(0, len(data)))
        match number % 4:
            case 0:
                for place in rng.integers(0, len(data), 12):
                    data[place] = int(rng.integers(0, 256))
            case 1:
                del data[at : at + int(rng.integers(1, 40))]
            case 2:
                data[: min(600, len(data))] = bytes(rng.permutation(np.frombuffer(bytes(data[:600]), np.uint8)))
            case _:
                del data[at:]
        try:
            picture_facts(bytes(data))
            loaded = load_picture(bytes(data))
            loaded.preview()
            assert loaded.finer is None or loaded.finer.factor >= 1
        except PhotoError as error:
            refused.append(str(error))
    return refused


def test_damaged_files_raise_nothing_but_a_photo_error(phone_jpeg: bytes) -> None:
    refused = refusals(80, 0, phone_jpeg)
    assert len(refused) > 26  # most were really damaged
    assert all(len(reason) > 20 for reason in refused)


@pytest.mark.slow
def test_a_thousand_damaged_files(phone_jpeg: bytes, figure: Any) -> None:
    refused = refusals(1000, 1, phone_jpeg)
    what = "1000 damaged pictures of ten kinds: refused in a sentence, the others opened"
    assert figure("trust.pictures", what, len(refused), target=">= 300").value > 300
