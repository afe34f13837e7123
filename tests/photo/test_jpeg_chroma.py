"""What a JPEG holds beyond 8 bits: its colour is read finer, and what rounding leaves is stated."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from colormatch.photo import load_picture
from colormatch.photo.jpeg_chroma import FROM_PLANES, TO_PLANES, fine_chroma, rounding_left, stronger_colour
from colormatch.photo.regions import region_outline
from colormatch.photo.sampling import sample_region
from tests.photo.test_load import saved


def gradient(seed: int) -> np.ndarray:
    """(128, 192, 3) encoded values, not whole: a colour that drifts by one step, as in the light of a studio."""
    rng = np.random.default_rng(seed)
    colour = rng.uniform(60, 170) + rng.uniform(-15, 15, 3)
    x, y = np.meshgrid(np.linspace(-0.5, 0.5, 192), np.linspace(-0.5, 0.5, 128))
    return colour + x[..., None] * rng.uniform(-1, 1, 3) + y[..., None] * rng.uniform(-1, 1, 3)


def written(values: np.ndarray, **options: object) -> bytes:
    """As a camera writes it: some noise, whole steps, JPEG."""
    noisy = values + np.random.default_rng(1).normal(0, 0.7, values.shape)
    return saved(Image.fromarray(np.clip(np.round(noisy), 0, 255).astype(np.uint8)), "JPEG", **options)


@pytest.mark.parametrize(
    "options",
    [
        {"quality": 92, "subsampling": 0},
        {"quality": 92, "subsampling": 1},
        {"quality": 85, "subsampling": 2},
        {"quality": 92, "progressive": True},
    ],
)
def test_even_surfaces_are_read_finer_than_in_whole_steps(options: dict[str, object]) -> None:
    """Error of the colour differences of 20 surfaces: six tenths at most of what 8-bit decoding leaves."""
    plain, finer = [], []
    for seed in range(20):
        values = gradient(seed)
        data = written(values, **options)
        true = values[16:112, 16:176].mean(axis=(0, 1)) @ TO_PLANES.T
        eight = np.asarray(Image.open(io.BytesIO(data)))[16:112, 16:176].mean(axis=(0, 1)) @ TO_PLANES.T
        found = fine_chroma(data, 1)
        assert found is not None
        grid = np.stack(np.meshgrid(np.arange(16, 176), np.arange(16, 112)), axis=-1) + 0.5
        plain.append(eight - true)
        finer.append(found.at(grid).mean(axis=(0, 1)) - true)
    rms = [np.sqrt(np.mean(np.square(off)[:, 1:])) for off in (plain, finer)]
    assert rms[1] < 0.6 * rms[0], rms


def test_a_region_is_nearer_to_the_truth_by_it() -> None:
    off = {True: [], False: []}
    for seed in range(20):
        values = gradient(seed)
        picture = load_picture(written(values, quality=92))
        outline = region_outline((16, 16, 176, 112), picture.size)
        true = picture.linear(values[16:112, 16:176].reshape(-1, 3)).mean(axis=0)
        for finer in (True, False):
            if not finer:
                vars(picture)["finer"] = None  # as of a picture that is no JPEG
            off[finer].append(sample_region(picture, outline).rgb / true - 1)
    assert np.std(off[True]) < 0.7 * np.std(off[False])


@pytest.mark.slow
def test_the_stated_rounding_is_what_even_surfaces_show() -> None:
    """Squared errors of even surfaces over the variance stated for them: near one on average, finer or not, PNG too,
    and in a JPEG of low quality, whose blocks keep their means coarsely."""
    low = {"quality": 60, "subsampling": 2}
    for kind, options in (("JPEG", {"quality": 95, "subsampling": 0}), ("JPEG", low), ("PNG", {})):
        for finer in (True, False):
            ratio = []
            for seed in range(60):
                colour = np.random.default_rng(seed).uniform(60, 180, 3)
                whole = np.broadcast_to(np.round(colour), (64, 64, 3)).astype(np.uint8)
                picture = load_picture(saved(Image.fromarray(whole), kind, **options))
                if not finer:
                    vars(picture)["finer"] = None  # as of a picture that is no JPEG
                sample = sample_region(picture, region_outline((8, 8, 56, 56), picture.size))
                off = sample.rgb - picture.linear(colour[None])[0]
                ratio.append(float(off @ np.linalg.solve(sample.covariance, off)) / 3)
            assert 0.3 < np.mean(ratio) < 1.7, (kind, finer, np.mean(ratio))


def test_rounding_fades_with_scatter() -> None:
    """A mean of rounded values whose scatter is half a step is off by less than a tenth of what even ones are."""
    still, noisy = (rounding_left(np.full((1, 3), sd), np.zeros(3), planes=True, finer=False)[0] for sd in (0.0, 0.5))
    assert np.trace(noisy) < 0.01 * np.trace(still)
    assert np.trace(still) == pytest.approx((3 + 2 * np.trace(FROM_PLANES @ FROM_PLANES.T)) / 12)


def test_the_steps_of_a_jpegs_means_are_an_eighth_of_its_tables() -> None:
    """ITU-T T.81, A.3.4, on tables of our own; no other kind of file says any."""
    luma, colour = [24, *63 * [30]], [40, *63 * [50]]
    jpeg, png = (saved(Image.new("RGB", (32, 32)), kind, qtables=[luma, colour]) for kind in ("JPEG", "PNG"))
    np.testing.assert_array_equal(load_picture(jpeg).plane_steps, [3, 5, 5])
    np.testing.assert_array_equal(load_picture(png).plane_steps, 0)


def test_the_turn_is_that_of_the_picture() -> None:
    values = np.full((64, 96, 3), (90, 90, 90), dtype=np.uint8)
    values[:32, :48] = (130, 80, 70)
    exif = Image.Exif()
    exif[0x0112] = 6
    picture = load_picture(saved(Image.fromarray(values), "JPEG", quality=95, exif=exif))
    found = picture.finer
    assert found is not None
    at = np.array([[50.0, 10.0], [10.0, 80.0]])
    wanted = picture.pixels()[[10, 80], [50, 10]] @ TO_PLANES.T
    assert np.abs(found.at(at) - wanted).max() < 1.5
    assert abs(wanted[0, 2] - wanted[1, 2]) > 10


def test_lively_colours_out_of_range_are_left_alone() -> None:
    lively = saved(Image.new("RGB", (64, 64), (240, 30, 20)), "JPEG", quality=95)
    found = fine_chroma(lively, 1)
    assert found is not None
    assert np.isnan(found.at(np.array([20.0, 20.0]))[2])
    picture = load_picture(lively)
    rgb = sample_region(picture, region_outline((8, 8, 56, 56), picture.size)).rgb
    assert np.abs(rgb - picture.linear(picture.pixels())[20, 20]).max() < 0.01


def test_what_has_no_planes_of_its_own_is_left_alone() -> None:
    colour = Image.new("RGB", (32, 32), (120, 80, 60))
    assert stronger_colour(saved(colour, "PNG")) is None
    assert stronger_colour(saved(colour.convert("L"), "JPEG")) is None
    assert stronger_colour(saved(colour, "JPEG", keep_rgb=True)) is None
    one_table = [Image.open(io.BytesIO(saved(colour, "JPEG"))).quantization[0]]
    assert stronger_colour(saved(colour, "JPEG", qtables=one_table)) is None
    whole = saved(colour, "JPEG")
    for cut in range(0, len(whole), 7):
        assert stronger_colour(whole[:cut]) is None or cut > 100
        fine_chroma(whole[:cut], 1)
