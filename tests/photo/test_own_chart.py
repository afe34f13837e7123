"""A chart the maker measured herself: its own values are used, and checked."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import colormatch as cm
from colormatch.colorimetry import reflectance_to_lab
from colormatch.errors import PhotoError
from colormatch.photo.chart import chart_lab, chart_reflectance, edition_lab, patch_names, read_chart
from colormatch.photo.population import recoloured
from tests.worlds.camera import Scene, Thing, photograph
from tests.worlds.scenes import cement_spectra, chart24, chart_corners, tile

CORNERS = chart_corners((230, 300), 380)
FADED = chart_lab() * np.array([1.0, 0.85, 0.85]) + np.array([1.5, 0.0, 1.0])


def test_a_recoloured_reflectance_has_the_colour_and_stays_one() -> None:
    changed = recoloured(chart_reflectance(), FADED)
    assert reflectance_to_lab(changed) == pytest.approx(FADED, abs=1e-8)
    assert changed.min() > 0
    assert changed.max() < 1.1
    assert recoloured(chart_reflectance(), chart_lab()) == pytest.approx(chart_reflectance(), abs=1e-12)


def test_a_faded_chart_does_less_harm_when_its_own_values_are_given(tmp_path: Path) -> None:
    spectra = dict(zip(patch_names(), recoloured(chart_reflectance(), FADED), strict=True))
    chart = [Thing(t.name, t.outline, spectra.get(t.name, t.reflectance)) for t in chart24(CORNERS)]
    pieces = [tile(f"t{i}", (480 + 100 * i, 250, 570 + 100 * i, 340), s) for i, s in enumerate(cement_spectra(3, 3))]
    data, facts = photograph(Scene((800, 600), (*chart, *pieces)), "camera-a", "window", 1)
    regions = [facts.regions[f"t{i}"] for i in range(3)]
    truth = np.array([facts.lab[f"t{i}"] for i in range(3)])

    def off(chart: cm.Chart24) -> float:
        photos = cm.measure_regions(data, regions=regions, reference=chart)
        return float(cm.delta_e_2000([p.shade.lab for p in photos], truth).mean())

    file = tmp_path / "my chart.csv"
    lines = [f"{name},{lab[0]:.3f},{lab[1]:.3f},{lab[2]:.3f}" for name, lab in zip(patch_names(), FADED, strict=True)]
    file.write_text("patch,L,a,b\n" + "\n".join(lines))
    assert read_chart(file) == pytest.approx(FADED, abs=1e-3)
    assert off(cm.Chart24(values=file)) < 1.0
    assert off(cm.Chart24(values=FADED)) < off(cm.Chart24())


@pytest.mark.parametrize("place", [7, 10, 15])
def test_one_faded_patch_is_named_and_left_out(place: int) -> None:
    """A third of its colour gone, by 5 dE00: a patch that fades by half of that is lost in what cameras do."""
    lab = chart_lab().copy()
    lab[place, 1:] *= 0.65
    spectra = dict(zip(patch_names(), recoloured(chart_reflectance(), lab), strict=True))
    chart = [Thing(t.name, t.outline, spectra.get(t.name, t.reflectance)) for t in chart24(CORNERS)]
    data, facts = photograph(Scene((800, 600), (*chart, tile("t", (520, 250, 640, 370), cement_spectra(3, 1)[0]))))
    said = " ".join(cm.measure_photo(data, region=facts.regions["t"]).warnings)
    assert f"so left out: {patch_names()[place]}." in said


def test_values_that_are_no_charts_are_refused(tmp_path: Path) -> None:
    data, _ = photograph(Scene((800, 600), chart24(CORNERS), chart_corners=CORNERS), seed=1)
    for values, words in (
        (chart_lab()[::-1], "far from the published ones at dark skin"),
        (chart_lab()[:20], "24"),
        (tmp_path / "none.csv", "could not be read"),
    ):
        with pytest.raises((PhotoError, cm.ColormatchError), match=words):
            cm.measure_photo(data, region=(600, 300, 640, 340), reference=cm.Chart24(values=values))
    short = tmp_path / "short.csv"
    short.write_text("dark skin,37,13,14\n")
    with pytest.raises(cm.ColormatchError, match="own values"):
        read_chart(short)


@pytest.mark.slow
def test_an_edition_by_its_name_is_read_as_that_edition_is() -> None:
    """Charts of the newer colours, said to be such: nearer than read as the standard's, in three frames on average."""
    newer, off = edition_lab("after November 2014"), []
    spectra = dict(zip(patch_names(), recoloured(chart_reflectance(), newer), strict=True))
    chart = [Thing(t.name, t.outline, spectra.get(t.name, t.reflectance)) for t in chart24(CORNERS)]
    for seed, camera in enumerate(("camera-a", "camera-b", "camera-c")):
        boxes = [(480 + 100 * place, 250, 570 + 100 * place, 340) for place in range(3)]
        pieces = [tile(f"t{i}", box, s) for i, (box, s) in enumerate(zip(boxes, cement_spectra(seed, 3), strict=True))]
        data, facts = photograph(Scene((800, 600), (*chart, *pieces)), camera, "window", seed)
        regions, truth = ([of[f"t{i}"] for i in range(3)] for of in (facts.regions, facts.lab))
        for said in (cm.Chart24(edition="after November 2014"), cm.Chart24()):
            photos = cm.measure_regions(data, regions=regions, reference=said)
            off.append(cm.delta_e_2000([photo.shade.lab for photo in photos], truth).mean())
    assert np.mean(off[::2]) < 0.8 * np.mean(off[1::2]), off
    with pytest.raises(PhotoError, match="There are: before November 2014, after November 2014"):
        cm.measure_photo(data, region=regions[0], reference=cm.Chart24(edition="next year's"))
