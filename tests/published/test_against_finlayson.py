"""Root-polynomial colour correction: Finlayson, Mackiewicz & Hurlbert, IEEE Trans. Image Process. 24(5)
(2015) 1460-1470, doi 10.1109/TIP.2015.2405336, and its implementation in colour-science.

The camera model writes the same space of functions another way (terms that vanish on neutrals), so that
its span, its exposure invariance and a fit within it are checked against the published terms.
"""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.photo.camera_model import N_PICTURE, PLACES, light_seen

colour = pytest.importorskip("colour")
pytestmark = pytest.mark.published(
    source="Finlayson, Mackiewicz & Hurlbert, IEEE Trans. Image Process. 24 (2015) 1460",
    covers=[
        "measure_photo",
    ],
)

RNG = np.random.default_rng(2015)
RGB = RNG.uniform(0.03, 0.95, (40, 3))
PLACE = np.zeros((40, 2))


def published_terms(rgb: np.ndarray) -> np.ndarray:
    """R, G, B, sqrt(RG), sqrt(GB), sqrt(RB): degree 2."""
    from colour.characterisation import polynomial_expansion_Finlayson2015

    return polynomial_expansion_Finlayson2015(rgb, 2, root_polynomial_expansion=True)


def test_the_terms_of_the_package_are_those_of_the_paper() -> None:
    r, g, b = RGB.T
    wanted = np.stack([r, g, b, np.sqrt(r * g), np.sqrt(g * b), np.sqrt(r * b)], axis=1)
    assert np.allclose(published_terms(RGB), wanted)


def test_every_mixing_of_the_model_lies_in_the_published_span() -> None:
    for _ in range(5):
        parameters = np.zeros(N_PICTURE)
        parameters[PLACES["root"]] = RNG.normal(0, 0.3, 9)
        light = light_seen(parameters, RGB, PLACE)
        terms = published_terms(RGB)
        fitted = terms @ np.linalg.lstsq(terms, light, rcond=None)[0]
        assert np.abs(fitted - light).max() < 1e-10


def test_exposure_scales_the_correction() -> None:
    """f(kR, kG, kB) = k f(R, G, B): the property the paper is about (section III)."""
    parameters = np.zeros(N_PICTURE)
    parameters[PLACES["root"]] = RNG.normal(0, 0.3, 9)
    for k in (0.25, 0.5, 2 / 3):
        assert np.allclose(light_seen(parameters, k * RGB, PLACE), k * light_seen(parameters, RGB, PLACE), atol=1e-9)


def test_the_correction_is_no_worse_than_the_published_regression() -> None:
    """On a noiseless simulated camera: cement read by this program and by colour-science's own
    root-polynomial fitted to the same chart."""
    from colour.characterisation import matrix_colour_correction_Finlayson2015

    from colormatch.colorimetry import linear_rgb_to_xyz, reflectance_to_lab, xyz_to_lab
    from colormatch.difference import delta_e_2000
    from colormatch.photo.camera_model import srgb_curves
    from colormatch.photo.chart import chart_lab, chart_reflectance
    from colormatch.photo.correct import Observations
    from colormatch.photo.fit import choose
    from tests.worlds.camera import LAMPS, lamp_spectrum, sensitivities
    from tests.worlds.scenes import cement_spectra

    spectra = cement_spectra(41, 40)
    truth = reflectance_to_lab(spectra)
    ours, theirs = [], []
    for lamp in LAMPS:
        light, sensor = lamp_spectrum(lamp), sensitivities("camera-a")
        from tests.worlds.camera import WARM, camera_matrix

        to_rgb = sensor / (light @ sensor) * light[:, None] @ camera_matrix("camera-a", lamp in WARM).T
        chart, pieces = 0.9 * chart_reflectance() @ to_rgb, 0.9 * spectra @ to_rgb
        keep = (chart > 0.002).all(axis=1)
        matrix = matrix_colour_correction_Finlayson2015(
            chart[keep], (chart_reflectance() @ srgb_curves())[keep], 2, root_polynomial_expansion=True
        )
        regressed = linear_rgb_to_xyz(published_terms(np.maximum(pieces, 0)) @ matrix.T)
        theirs.append(delta_e_2000(xyz_to_lab(regressed), truth).mean())
        n = int(keep.sum())
        known = chart_lab()[keep], chart_reflectance()[keep], np.full(n, 0.2), np.zeros(n)
        seen = Observations(chart[keep], np.zeros((n, 2)), *known, np.zeros((n, 3, 3)))
        correction = choose(seen)
        read = np.array([correction.predict(rgb, np.zeros(2))[0] for rgb in pieces])
        ours.append(delta_e_2000(read, truth).mean())
    stated = f"this program {np.round(ours, 2)}, root-polynomial regression {np.round(theirs, 2)}"
    assert np.mean(ours) <= np.mean(theirs), stated
