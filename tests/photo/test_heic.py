"""HEIC photographs, written here by pillow-heif and read back: upright once, in their own colours, or refused."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from colormatch.difference import delta_e_2000
from colormatch.errors import PhotoError
from colormatch.photo import GreyCard, load_picture, measure_photo, picture_facts, preview_image
from tests.photo.test_load import display_p3
from tests.worlds.camera import photograph
from tests.worlds.scenes import cement_spectra, studio_scene

heif = pytest.importorskip("pillow_heif", reason="HEIC needs the extra: pip install 'colormatch[heic]'")

RED_CORNER = np.full((48, 64, 3), 90, dtype=np.uint8)
RED_CORNER[:16, :24] = (220, 40, 40)


def heic(pixels: np.ndarray | Image.Image, **options: object) -> bytes:
    picture = Image.fromarray(pixels) if isinstance(pixels, np.ndarray) else pixels
    buffer = io.BytesIO()
    heif.from_pillow(picture).save(buffer, quality=95, chroma=444, **options)
    return buffer.getvalue()


def exif(orientation: int) -> bytes:
    tags = Image.Exif()
    tags[0x0112], tags[0x0110], tags[0x0132] = orientation, "Invented Phone", "2026:06:01 10:00:00"
    return tags.tobytes()


@pytest.mark.parametrize("orientation", range(1, 9))
def test_turned_once_and_not_twice(orientation: int) -> None:
    """The decoder itself turns the picture; where the red corner must come to lie is what Pillow says of the tag."""
    plain = Image.fromarray(RED_CORNER)
    plain.getexif()[0x0112] = orientation
    from PIL.ImageOps import exif_transpose

    wanted = np.asarray(exif_transpose(plain))
    data = heic(RED_CORNER, exif=exif(orientation))
    picture = load_picture(data)
    assert picture.size == wanted.shape[1::-1]
    assert np.abs(picture.pixels().astype(int) - wanted).mean() < 4
    facts = picture_facts(data)
    assert (facts.width, facts.height) == picture.size
    assert (facts.kind, facts.model, facts.taken_on) == ("HEIF", "Invented Phone", "2026:06:01 10:00:00")
    assert preview_image(data).size == picture.size


def test_a_wide_gamut_profile_is_honoured() -> None:
    data = heic(np.full((32, 32, 3), (200, 60, 50), dtype=np.uint8), icc_profile=display_p3())
    picture = load_picture(data)
    assert picture.facts.profile == "Invented wide"
    assert not picture.warnings
    red = picture.linear(picture.pixels())[16, 16]
    plain = load_picture(heic(np.full((32, 32, 3), (200, 60, 50), dtype=np.uint8)))
    assert red[0] > 1.1 * plain.linear(plain.pixels())[16, 16, 0]  # the same numbers mean a redder red


def test_ten_bits_are_measured_in_full_depth() -> None:
    """Within a step of 10 bits, which the way there and back from luma may take; at 8 red would be two off."""
    values = np.full((32, 32, 3), (640, 321, 161), dtype=np.uint16) << 6
    buffer = io.BytesIO()
    heif.from_bytes("RGB;16", (32, 32), values.tobytes()).save(buffer, quality=-1, chroma=444)
    assert heif.open_heif(buffer.getvalue()).info["bit_depth"] > 8
    picture = load_picture(buffer.getvalue())
    assert np.abs(picture.pixels()[16, 16].astype(int) - values[0, 0] / 257).max() <= 1.5
    assert not picture.lost_depth
    assert np.abs(picture.picked((0, 0, 32, 32))[16, 16] - np.array([640, 321, 161]) / 1023 * 255).max() < 0.26
    assert picture.step == pytest.approx(255 / 1023)


def test_the_main_one_of_several_pictures_is_measured_and_said() -> None:
    several = heif.from_pillow(Image.fromarray(RED_CORNER))
    several.add_from_pillow(Image.new("RGB", (32, 32), (10, 20, 240)))
    buffer = io.BytesIO()
    several.save(buffer, primary_index=1)
    picture = load_picture(buffer.getvalue())
    assert picture.size == (32, 32)
    assert "only the main one" in picture.warnings[0]


def test_see_through_parts_and_grey_pictures() -> None:
    assert "see-through" in load_picture(heic(Image.new("RGBA", (40, 40), (200, 100, 50, 90)))).warnings[0]
    with pytest.raises(PhotoError, match="black and white"):
        measure_photo(heic(Image.new("L", (40, 40), 90)), region=(5, 5, 30, 30), reference=None)


@pytest.mark.slow
def test_a_photograph_measures_as_its_jpeg_does() -> None:
    data, facts = photograph(studio_scene(cement_spectra(3, 2), with_chart=False), "camera-a", "window", 1)
    card = GreyCard(facts.regions["grey card"])
    box = facts.regions["tile 2"]
    as_heic = heic(Image.open(io.BytesIO(data)))
    shades = [measure_photo(d, region=box, reference=card).shade for d in (data, as_heic)]
    assert delta_e_2000(shades[0].lab, shades[1].lab) < 1.0


@pytest.mark.parametrize("seed", range(3))
def test_damaged_files_are_refused_in_a_sentence(seed: int) -> None:
    rng = np.random.default_rng(seed)
    whole = heic(rng.integers(0, 255, (40, 56, 3), dtype=np.uint8), exif=exif(6), icc_profile=display_p3())
    refused = []
    for number in range(40):
        data = bytearray(whole)
        if number % 2:
            del data[int(rng.integers(12, len(data))) :]
        else:
            for place in rng.integers(12, len(data), 10):
                data[place] = int(rng.integers(0, 256))
        for read in (picture_facts, load_picture):
            try:
                read(bytes(data))
            except PhotoError as error:
                refused.append(str(error))
    assert len(refused) > 30
    assert all(reason.endswith(".") and len(reason) > 40 for reason in refused)


def test_a_file_cut_short_is_refused() -> None:
    whole = heic(RED_CORNER)
    with pytest.raises(PhotoError, match="damaged or cut short"):
        load_picture(whole[:-20])
    with pytest.raises(PhotoError, match="a whole HEIC file"):
        load_picture(whole[:40])
