"""The whole job: a photograph in, shades with an honest sd out, and plain warnings."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

import colormatch as cm
from colormatch.difference import delta_e_2000
from colormatch.errors import PhotoError, ReferenceNotFound
from colormatch.photo import (
    Chart24,
    GreyCard,
    KnownSwatches,
    Photo,
    measure_photo,
    measure_regions,
    tile_sheet_regions,
)
from colormatch.photo.camera_model import PLACES, neutral_seen
from colormatch.render import proof_picture
from colormatch.shade import Shade
from tests.worlds.camera import CAMERAS, Camera, Facts, Scene, camera_matrix, lamp_spectrum, photograph, sensitivities
from tests.worlds.outside_scenes import outside_photograph
from tests.worlds.scenes import GREY_18, cement_spectra, chart24, chart_corners, studio_scene, tile, vessel

NAMES = [f"tile {i}" for i in range(1, 7)]


@pytest.fixture(scope="module")
def frame() -> tuple[bytes, Facts]:
    return photograph(studio_scene(cement_spectra(3, 6), turn=20, tilt=15), "camera-a", "window", 1)


def regions(facts: Facts, names: list[str] = NAMES) -> list[tuple[float, float, float, float]]:
    return [facts.regions[name] for name in names]


def errors(photos: list[Photo], facts: Facts, names: list[str] = NAMES) -> np.ndarray:
    truth = np.array([facts.lab[name] for name in names])
    return delta_e_2000(np.array([p.shade.lab for p in photos]), truth)


def test_public_names_are_the_ones_promised() -> None:
    assert cm.measure_photo is measure_photo
    assert cm.Chart24 is Chart24
    assert cm.GreyCard is GreyCard
    assert cm.KnownSwatches is KnownSwatches


@pytest.mark.slow
@pytest.mark.parametrize("camera", CAMERAS)
def test_chart_found_or_marked_gives_the_same_shade(camera: str) -> None:
    data, facts = photograph(studio_scene(cement_spectra(3, 6), turn=20, tilt=15), camera, "window", 1)
    found = measure_regions(data, regions=regions(facts))
    marked = measure_regions(data, regions=regions(facts), reference=Chart24(facts.chart_corners))
    assert errors(found, facts).mean() < 1.2
    assert max(delta_e_2000(a.shade.lab, b.shade.lab) for a, b in zip(found, marked, strict=True)) < 0.2
    assert 0.1 < found[0].reference_error < 2.0
    assert 0.2 < found[0].shade.sd < 2.5


def test_several_regions_are_each_as_when_alone(frame: tuple[bytes, Facts]) -> None:
    data, facts = frame
    together = measure_regions(data, regions=regions(facts))
    alone = measure_photo(data, region=facts.regions["tile 4"])
    assert np.allclose(alone.shade.lab, together[3].shade.lab)
    assert together[0].correction is together[5].correction


def test_every_reference_serves_and_more_are_better(frame: tuple[bytes, Facts]) -> None:
    data, facts = frame
    card = GreyCard(facts.regions["grey card"])
    swatches = KnownSwatches([(facts.regions[n], Shade(facts.lab[n], sd=0.3)) for n in NAMES[:4]])
    rest = NAMES[4:]
    sds = {}
    for name, reference in {"none": None, "card": card, "chart": Chart24(), "both": [Chart24(), swatches]}.items():
        photos = measure_regions(data, regions=regions(facts, rest), reference=reference)
        sds[name] = photos[0].shade.sd
        assert errors(photos, facts, rest).mean() < {"none": 15, "card": 4, "chart": 1.5, "both": 1.5}[name], name
    assert sds["none"] > sds["card"] > sds["chart"] > 0.95 * sds["both"]  # four swatches add little to a chart


@pytest.mark.slow
@pytest.mark.parametrize("stops", [-1.0, 1.0])
def test_one_stop_of_exposure_changes_a_shade_by_less_than_half(stops: float) -> None:
    scene = studio_scene(cement_spectra(8, 6), turn=10)
    shades = []
    for change in (0.0, stops):
        # Some noise, as phones have: without it 8 bits round every pixel alike when the file is written.
        data, facts = photograph(scene, "camera-c", "window", 4, exposure=0.45, exposure_stops=change, quality=92)
        shades.append([p.shade.lab for p in measure_regions(data, regions=regions(facts))])
    moved = delta_e_2000(np.array(shades[0]), np.array(shades[1]))
    assert moved.mean() < 0.5


@pytest.mark.slow
@pytest.mark.parametrize("orientation", [3, 6, 8])
def test_turning_the_camera_changes_a_shade_by_less_than_half(frame: tuple[bytes, Facts], orientation: int) -> None:
    scene = studio_scene(cement_spectra(3, 6), turn=20, tilt=15)
    turned, facts = photograph(scene, "camera-a", "window", 1, orientation=orientation)
    first = measure_regions(frame[0], regions=regions(facts))
    second = measure_regions(turned, regions=regions(facts))
    assert max(delta_e_2000(a.shade.lab, b.shade.lab) for a, b in zip(first, second, strict=True)) < 0.5


@pytest.mark.slow
def test_turning_the_pixels_by_a_quarter_changes_a_shade_by_less_than_half(frame: tuple[bytes, Facts]) -> None:
    """The same pixels upright and turned, both as PNG: what a JPEG holds beyond 8 bits is gone from either."""
    data, facts = frame
    picture, width = Image.open(io.BytesIO(data)), facts.size[0]
    upright, turned = (saved(p, "PNG") for p in (picture, picture.transpose(Image.Transpose.ROTATE_90)))
    for name in NAMES:
        x0, y0, x1, y1 = facts.regions[name]
        first = measure_photo(upright, region=(x0, y0, x1, y1))
        second = measure_photo(turned, region=(y0, width - x1, y1, width - x0))
        assert delta_e_2000(first.shade.lab, second.shade.lab) < 0.5


def saved(picture: Image.Image, kind: str) -> bytes:
    buffer = io.BytesIO()
    picture.save(buffer, kind)
    return buffer.getvalue()


@pytest.mark.slow
def test_a_profile_from_a_chart_helps_a_grey_card() -> None:
    chart_day, facts = photograph(studio_scene(cement_spectra(1, 1)), "camera-c", "tungsten", 3)
    profile = measure_photo(chart_day, region=facts.regions["tile 1"]).profile
    assert profile is not None
    assert profile.model == "Invented Camera-C"
    card_day, facts = photograph(studio_scene(cement_spectra(3, 6), with_chart=False), "camera-c", "tungsten", 9)
    card = GreyCard(facts.regions["grey card"])
    plain = measure_regions(card_day, regions=regions(facts), reference=card)
    helped = measure_regions(card_day, regions=regions(facts), reference=card, profile=profile)
    assert errors(helped, facts).mean() < errors(plain, facts).mean()
    assert helped[0].shade.sd < plain[0].shade.sd
    assert any("grey card alone" in note for note in plain[0].warnings)
    assert not any("grey card alone" in note for note in helped[0].warnings)


def test_a_vessel_with_pits_and_glints() -> None:
    pot = vessel("pot", (480, 60, 760, 560), cement_spectra(6, 1)[0], pits=60, glints=10)
    scene = Scene((800, 600), (*chart24(chart_corners((230, 300), 380)), pot))
    data, facts = photograph(scene, seed=2, slope=0.1)
    photo = measure_photo(data, region=facts.regions["pot"])
    assert delta_e_2000(photo.shade.lab, facts.lab["pot"]) < 1.5


def test_a_sheet_of_tiles_is_read_in_order() -> None:
    spectra = cement_spectra(12, 6)
    boxes = [(480 + 110 * (i % 3), 100 + 110 * (i // 3), 580 + 110 * (i % 3), 200 + 110 * (i // 3)) for i in range(6)]
    tiles = tuple(tile(f"tile {i + 1}", box, s) for i, (box, s) in enumerate(zip(boxes, spectra, strict=True)))
    data, facts = photograph(Scene((840, 420), (*chart24(chart_corners((230, 200), 380)), *tiles)), seed=6)
    sheet = tile_sheet_regions([(475, 95), (805, 95), (805, 315), (475, 315)], rows=2, columns=3)
    assert errors(measure_regions(data, regions=sheet), facts).mean() < 1.2


def test_two_known_swatches_in_the_frame_alone() -> None:
    data, facts = photograph(studio_scene(cement_spectra(21, 9), with_chart=False), "camera-a", "daylight", 4)
    known = [f"tile {i}" for i in range(1, 8)]
    swatches = KnownSwatches([(facts.regions[n], Shade(facts.lab[n], sd=0.3)) for n in known])
    photos = measure_regions(data, regions=regions(facts, ["tile 8", "tile 9"]), reference=swatches)
    assert errors(photos, facts, ["tile 8", "tile 9"]).mean() < 2.0


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"exposure_stops": 1.0}, "Too bright"),
        ({"slope": 0.5, "slope_angle": 0.0}, "falls off"),
        ({"glare": 0.04}, "stray light"),
        ({"blur": 6.0}, "blurred"),
    ],
)
def test_warnings_name_the_fault(change: dict[str, float], words: str) -> None:
    scene = studio_scene(cement_spectra(3, 1), turn=5)
    data, facts = photograph(scene, "camera-a", "window", 1, **change)  # type: ignore[arg-type]
    photo = measure_photo(data, region=facts.regions["tile 1"], reference=Chart24(facts.chart_corners))
    assert any(words in note for note in photo.warnings), photo.warnings
    assert all(note.endswith(".") for note in photo.warnings)


def test_a_sound_photograph_draws_no_warning() -> None:
    scene = studio_scene(cement_spectra(3, 1), turn=5, glints=0)
    data, facts = photograph(scene, "camera-c", "window", 1, slope=0.05, exposure=0.7)
    assert measure_photo(data, region=facts.regions["tile 1"]).warnings == ()


@pytest.mark.slow
def test_two_lights_of_different_colour_are_noticed() -> None:
    scene = studio_scene(cement_spectra(3, 1))
    data, facts = photograph(scene, "camera-a", "window", 1)
    values = np.asarray(Image.open(io.BytesIO(data))).astype(float)
    values *= 1 + np.linspace(-0.12, 0.12, values.shape[1])[None, :, None] * np.array([1, 0, -1])
    tinted = saved(Image.fromarray(np.clip(values, 0, 255).astype(np.uint8)), "PNG")
    photo = measure_photo(tinted, region=facts.regions["tile 1"])
    assert any("Two lights" in note for note in photo.warnings)


@pytest.mark.slow
def test_a_camera_that_changes_levels_by_itself_is_noticed_and_trusted_less() -> None:
    """Local contrast moves a piece's level; the sheet around it shows that, and the stated sd grows."""
    measured = {}
    for condition in ("strong contrast", "sharpened, local contrast"):
        data, facts = outside_photograph(condition, cement_spectra(3, 6), "camera-c", "window", 1)
        measured[condition] = measure_regions(data, regions=regions(facts))
    usual, changed = measured.values()
    assert any("from place to place" in note for note in changed[0].warnings)
    assert not any("from place to place" in note for note in usual[0].warnings)
    assert changed[0].shade.covariance[0, 0] > 2 * usual[0].shade.covariance[0, 0]


@pytest.mark.slow
def test_rounding_does_not_tilt_the_colour_of_one_lamp() -> None:
    scene = studio_scene(cement_spectra(8, 6), turn=10)
    tilts = []
    for lamp in ("window", "violet-led", "tube"):
        data, facts = photograph(scene, "camera-b", lamp, 4, exposure=0.225)
        photo = measure_regions(data, regions=regions(facts))[0]
        tilts.append(np.abs(photo.correction.estimate.mean[PLACES["tint"]]).max())
    assert np.mean(tilts) < 0.002


@pytest.mark.slow
@pytest.mark.parametrize("camera", CAMERAS)
def test_a_second_lamp_tilts_the_colour_of_a_neutral_as_it_truly_does(camera: str) -> None:
    """From the left end of the picture to the right, against the lamps' and the sensor's own numbers."""
    scene = studio_scene(cement_spectra(8, 6), turn=10)
    data, facts = photograph(scene, camera, "window", 4, exposure=0.225, second_lamp=("tungsten", 0.3))
    photo = measure_regions(data, regions=regions(facts))[0]
    curves, matrix = sensitivities(camera), camera_matrix(camera, warm=False)
    right = 1 + 0.3 * ((lamp_spectrum("tungsten") @ curves) / (lamp_spectrum("window") @ curves) - 1)
    true = np.log(matrix @ right)
    found = np.diff(np.log(neutral_seen(photo.correction.estimate.mean, np.array([[-0.5, 0], [0.5, 0]]))), axis=0)[0]
    assert found - found[1] == pytest.approx(true - true[1], rel=0.3)
    assert any("Two lights" in note for note in photo.warnings)


@pytest.mark.slow
def test_a_strong_cast_is_noticed_where_a_grey_card_has_to_mend_it() -> None:
    scene = studio_scene(cement_spectra(3, 1), turn=5, glints=0)
    data, facts = photograph(scene, "camera-a", "window", 1, slope=0.05, exposure=0.6)
    values = np.asarray(Image.open(io.BytesIO(data))).astype(float)
    warm = saved(Image.fromarray((values * np.array([1, 0.9, 0.7])).astype(np.uint8)), "PNG")
    for picture, noticed in ((data, False), (warm, True)):
        photo = measure_photo(picture, region=facts.regions["tile 1"], reference=GreyCard(facts.regions["grey card"]))
        assert any("colour cast" in note for note in photo.warnings) is noticed


def test_two_lamps_are_mended_where_the_sheet_shows_them() -> None:
    data, facts = outside_photograph("a second lamp", cement_spectra(3, 6), "camera-a", "tungsten", 1)
    photos = measure_regions(data, regions=regions(facts))
    assert any("Two lights" in note for note in photos[0].warnings)
    assert errors(photos, facts).mean() < 1.5


def test_a_strip_too_narrow_for_a_sheet_is_measured() -> None:
    strip = Image.new("RGB", (400, 10), (150, 120, 100))
    photo = measure_photo(saved(strip, "PNG"), region=(20, 1, 200, 9), reference=None)
    assert photo.shade.lab[0] > 30


def test_a_small_chart_is_warned_about_and_a_tiny_one_refused() -> None:
    piece = tile("t", (300, 200, 400, 300), GREY_18)
    for width, expected in ((90, "chart is small"), (40, None)):
        scene = Scene((500, 400), (*chart24(chart_corners((150, 150), width)), piece))
        data, facts = photograph(scene, seed=3)
        chart = Chart24(chart_corners((150, 150), width))
        if expected is None:
            with pytest.raises(ReferenceNotFound, match="pixels wide"):
                measure_photo(data, region=facts.regions["t"], reference=chart)
        else:
            photo = measure_photo(data, region=facts.regions["t"], reference=chart)
            assert any(expected in note for note in photo.warnings)


def test_a_hopelessly_overexposed_chart_is_refused() -> None:
    data, facts = photograph(studio_scene(cement_spectra(3, 1)), seed=1, exposure_stops=3.5)
    with pytest.raises(ReferenceNotFound, match="less exposure"):
        measure_photo(data, region=facts.regions["tile 1"], reference=Chart24(facts.chart_corners))


def test_a_chart_with_channels_at_zero_is_refused_for_that() -> None:
    vivid = Camera("camera-b", saturation=2.2, model="Invented")
    data, facts = photograph(studio_scene(cement_spectra(3, 1)), vivid, "warm-led", 3)
    with pytest.raises(ReferenceNotFound, match="channel is at zero in most patches"):
        measure_photo(data, region=facts.regions["tile 1"], reference=Chart24(facts.chart_corners))


def test_bad_calls_are_refused_in_words(frame: tuple[bytes, Facts]) -> None:
    data, facts = frame
    region = facts.regions["tile 1"]
    with pytest.raises(PhotoError, match="No region"):
        measure_regions(data, regions=[])
    with pytest.raises(PhotoError, match="no known swatches"):
        measure_photo(data, region=region, reference=KnownSwatches([]))
    with pytest.raises(PhotoError, match="Chart24, a GreyCard, KnownSwatches or a TileBoard"):
        measure_photo(data, region=region, reference="chart")  # type: ignore[arg-type]
    with pytest.raises(cm.ColormatchError, match="reflectance"):
        measure_photo(data, region=region, reference=GreyCard(region, reflectance=18))
    with pytest.raises(PhotoError, match="'cement' or 'anything', not 'leaf'"):
        measure_photo(data, region=region, surface="leaf")  # type: ignore[arg-type]
    with pytest.raises(PhotoError, match="1 regions are marked, but of 2"):
        measure_regions(data, regions=[region], surfaces=["cement", "anything"])


def test_what_need_not_be_cement_is_read_alike_and_less_surely(frame: tuple[bytes, Facts]) -> None:
    data, facts = frame
    cement = measure_regions(data, regions=regions(facts))
    anything = measure_regions(data, regions=regions(facts), surfaces=["anything"] * len(NAMES))
    for one, other in zip(cement, anything, strict=True):
        assert np.array_equal(one.shade.lab, other.shade.lab)
        assert np.linalg.eigvalsh(other.shade.covariance - one.shade.covariance).min() > -0.05
        assert other.shade.sd > one.shade.sd


def test_the_proof_shows_before_and_after(frame: tuple[bytes, Facts]) -> None:
    data, facts = frame
    photos = measure_regions(data, regions=regions(facts))
    proof = proof_picture(data, photos, longest=1000)
    assert proof.mode == "RGB"
    assert 500 <= proof.width <= 1000
    half = proof.width // 2
    x0, y0, x1, y1 = (int(v * half / facts.size[0]) for v in facts.regions["tile 2"])
    after = np.asarray(proof)[y0 + 4 : y1 - 4, half + x0 + 4 : half + x1 - 4].reshape(-1, 3).astype(float)
    from colormatch.colorimetry import srgb_to_lab

    # The right half shows the pieces as measured, to the eye (one matrix for the whole picture).
    assert delta_e_2000(srgb_to_lab(np.median(after, axis=0) / 255), photos[1].shade.lab) < 3.0
