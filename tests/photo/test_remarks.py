"""Warnings: the gravest first, three at most, each for its own fault."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

import colormatch as cm
from colormatch.photo.chart import tilt
from colormatch.photo.remarks import Grade, Remark, gravest
from tests.photo.test_load import saved
from tests.worlds.camera import Facts, Scene, photograph
from tests.worlds.scenes import cement_spectra, chart24, chart_corners, studio_scene, tile


@pytest.fixture(scope="module")
def frame() -> tuple[bytes, Facts]:
    return photograph(studio_scene(cement_spectra(3, 6), turn=5, glints=0), "camera-c", "window", 1, slope=0.05)


def first_of(data: bytes, region: tuple[float, ...], **more: object) -> str:
    return " ".join(cm.measure_photo(data, region=region, **more).warnings[:1])  # type: ignore[arg-type]


def test_the_gravest_come_first_and_three_at_most() -> None:
    order = [Grade.ADVICE, Grade.LIGHT, Grade.ELSEWHERE, Grade.LOST, Grade.ELSEWHERE]
    remarks = [Remark(grade, f"{grade.name}.") for grade in order]
    assert gravest(remarks) == ("ELSEWHERE.", "LOST.", "LIGHT.")


def test_where_a_region_lies_is_said_first(frame: tuple[bytes, Facts]) -> None:
    data, facts = frame
    x0, y0, x1, y1 = facts.regions["tile 1"]
    chart = np.asarray(facts.chart_corners).mean(axis=0)
    card = cm.GreyCard(facts.regions["grey card"])
    assert "lies on the chart" in first_of(data, (chart[0], chart[1], chart[0] + 40, chart[1] + 40))
    assert "lies on the grey card" in first_of(data, facts.regions["grey card"], reference=card)
    assert "colour of the background" in first_of(data, (760, 700, 840, 780))
    assert "half off the piece" in first_of(data, (x0, y0 - 50, x1, y1 - 50))
    assert cm.measure_photo(data, region=(x0, y0, x1, y1)).warnings == ()


def test_an_edge_of_shadow_is_told_from_a_region_half_off() -> None:
    piece = tile("piece", (520, 150, 720, 350), cement_spectra(3, 1)[0], pits=0)
    half = np.array([[620, 0], [800, 0], [800, 600], [620, 600]])
    scene = Scene((800, 600), (*chart24(chart_corners((230, 300), 380)), piece), shadow=half, shadow_depth=0.25)
    data, facts = photograph(scene, "camera-a", "window", 2)
    words = first_of(data, facts.regions["piece"], reference=cm.Chart24(chart_corners((230, 300), 380)))
    assert "An edge of light and dark" in words


def test_a_piece_of_the_backgrounds_hue_is_half_off_where_part_of_the_region_lies_beside_it() -> None:
    """Light and dark of one hue: a shadow's edge, had the dark part not the background's colour."""
    grey = np.full(31, 0.6)
    data, facts = photograph(studio_scene(np.stack([grey] * 3), turn=5, glints=0), "camera-c", "window", 1)
    x0, y0, x1, y1 = facts.regions["tile 1"]
    assert "half off the piece: part of it" in first_of(data, (x0, y0 - 50, x1, y1 - 50))


def test_a_chart_is_read_without_its_white_and_with_too_many_too_bright_it_is_said() -> None:
    for exposure, said in ((1.2, False), (1.9, True)):
        data, facts = photograph(studio_scene(cement_spectra(3, 3)), "camera-c", "daylight", 4, exposure=exposure)
        photo = cm.measure_photo(data, region=facts.regions["tile 3"])
        assert "white 9.5" not in [reference.name for reference in photo.references]
        assert any("Too bright to be used" in words for words in photo.warnings) == said


def test_the_flash_is_read_from_the_pictures_notes(frame: tuple[bytes, Facts]) -> None:
    data, facts = frame
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9209] = 0x19  # fired, by itself
    flashed = saved(Image.open(io.BytesIO(data)), "JPEG", quality=95, exif=exif)
    assert "The flash fired" in first_of(flashed, facts.regions["tile 1"])


def test_the_tilt_of_the_camera_is_read_off_the_chart() -> None:
    """A cosine tells small angles badly: a chart of a make 1 % longer looks tilted by 8 degrees."""
    for degrees, within in ((0, 10), (15, 10), (30, 4), (45, 4)):
        corners = chart_corners((400, 300), 300, turn=33, tilt=degrees, tilt_axis=20)
        assert tilt(corners) == pytest.approx(degrees, abs=within)


def test_a_photograph_is_looked_at_before_a_region_is_marked(frame: tuple[bytes, Facts]) -> None:
    data, facts = frame
    good = cm.check_photo(data)
    assert good.usable
    assert good.words == ("What tells the colour of the light was found, and the light is even.",)
    assert good.chart_corners == pytest.approx(np.asarray(facts.chart_corners), abs=3)
    bare, _ = photograph(studio_scene(cement_spectra(3, 3), with_chart=False), "camera-a", "window", 1)
    for source in (bare, b"no picture"):
        bad = cm.check_photo(source)
        assert not bad.usable
        assert len(bad.words) == 1


def test_only_known_kinds_of_files_are_opened() -> None:
    """A PostScript file under the name of a photograph would start another program."""
    script = b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n%%EndComments\nshowpage\n%%EOF\n"
    icon = saved(Image.new("RGB", (32, 32), (200, 100, 50)), "ICO")
    for content in (script, icon, saved(Image.new("RGB", (8, 8)), "PPM")):
        with pytest.raises(cm.ColormatchError, match="not a picture that can be read here"):
            cm.measure_photo(content, region=(0, 0, 8, 8), reference=None)
