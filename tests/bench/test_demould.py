"""The check at demould: honest bands, and slips that are found again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import chi2

import colormatch as cm
from colormatch import mixture
from colormatch.bench.causes import likely_causes
from colormatch.bench.demould import check_demould
from colormatch.errors import ColormatchError

BASE = "white-cement"
LOADS = {"red-iron-oxide": 0.012, "yellow-iron-oxide": 0.015, "titanium-white": 0.010}


@pytest.fixture(scope="module")
def palette():
    """The starter palette as if it had learned from very many tiles: a thirtieth of the uncertainty."""
    starter = cm.starter_palette()
    return starter.with_posterior(starter.mean, starter.covariance * 0.001)


def measured(palette, loads, state="demould", sd=0.5):
    return cm.Shade(palette.predict(loads, BASE, state).lab, sd=sd)


@pytest.mark.parametrize(
    ("within", "track"), [(0.89, "on track"), (0.91, "borderline"), (0.985, "borderline"), (0.995, "off track")]
)
def test_limits_are_those_of_chi_square(palette, within, track):
    predicted = palette.predict(LOADS, BASE, "demould")
    spread = predicted.covariance + 0.25 * np.eye(3)
    away = np.linalg.cholesky(spread)[:, 0] * np.sqrt(chi2.ppf(within, 3))
    assert check_demould(palette, LOADS, BASE, cm.Shade(predicted.lab + away, sd=0.5)).track == track


def test_a_wide_band_is_not_called_on_track():
    check = check_demould(cm.starter_palette(), LOADS, BASE, measured(cm.starter_palette(), LOADS))
    assert check.track == "too little known"
    assert "The band is wide" in check.words
    assert check.causes == ()


def test_a_piece_as_predicted_is_on_track(palette):
    check = check_demould(palette, LOADS, BASE, measured(palette, LOADS))
    assert check.track == "on track"
    assert check.distance == pytest.approx(0.0)
    assert check.causes == ()
    assert check.dry_delta_e < 0.1


def test_good_pieces_are_called_on_track_nine_times_in_ten(palette):
    """Pieces drawn from the palette's own posterior; the words must keep their promise of 90 and 99 %."""
    rng = np.random.default_rng(3)
    predicted = palette.predict(LOADS, BASE, "demould")
    spread = predicted.covariance + 0.25 * np.eye(3)
    tracks = []
    for lab in rng.multivariate_normal(predicted.lab, spread, size=600):
        off = lab - predicted.lab
        distance = off @ np.linalg.solve(spread, off)
        if len(tracks) < 60:
            assert check_demould(palette, LOADS, BASE, cm.Shade(lab, sd=0.5)).distance == pytest.approx(distance)
        tracks.append(distance <= chi2.ppf(0.90, 3))
    assert 0.86 <= np.mean(tracks) <= 0.94


@pytest.mark.parametrize(
    ("kind", "pigment", "loads"),
    [
        ("strength", "", {name: 0.4 * load for name, load in LOADS.items()}),
        ("dispersion", "red-iron-oxide", {**LOADS, "red-iron-oxide": 0.005}),
        ("too much", "red-iron-oxide", {**LOADS, "red-iron-oxide": 0.025}),
        ("forgotten", "red-iron-oxide", {**LOADS, "red-iron-oxide": 0.0}),
        ("forgotten", "yellow-iron-oxide", {**LOADS, "yellow-iron-oxide": 0.0}),
        ("wrong pigment", "red-iron-oxide", {**LOADS, "red-iron-oxide": 0.0, "cobalt-blue": 0.012}),
    ],
)
def test_the_slip_is_found_with_its_size(palette, kind, pigment, loads):
    check = check_demould(palette, LOADS, BASE, measured(palette, loads))
    assert check.track != "on track"
    named = [cause for cause in check.causes[:4] if (cause.kind, cause.pigment) == (kind, pigment)]
    assert named, [(c.kind, c.pigment, c.size) for c in check.causes]
    assert named[0].delta_e == pytest.approx(check.delta_e, rel=0.5)  # drawn towards small slips
    if kind in ("strength", "dispersion", "too much"):
        name = pigment or "red-iron-oxide"
        assert named[0].size == pytest.approx(loads[name] / LOADS[name], rel=0.35)
    if kind == "wrong pigment":
        assert "Cobalt blue" in named[0].words


def test_twice_the_dose_is_found_in_a_pale_piece(palette):
    """In one of 4 % pigment the same slip moves the dark fresh shade by 2 dE00: less than casting scatters."""
    pale = {name: 0.3 * load for name, load in LOADS.items()}
    check = check_demould(palette, pale, BASE, measured(palette, {name: 2 * load for name, load in pale.items()}))
    assert check.track == "off track"
    (strength,) = [cause for cause in check.causes[:3] if cause.kind == "strength"]
    assert strength.size == pytest.approx(2.0, rel=0.2)


def test_a_piece_photographed_dry_is_told_to_be_wetted(palette):
    check = check_demould(palette, LOADS, BASE, measured(palette, LOADS, "dry"))
    assert check.causes[0].kind == "drying"
    assert "wet the surface" in check.words
    assert check.dry_delta_e < 1.5


def test_a_forgotten_pigment_is_forgotten_in_the_dry_shade_too(palette):
    without = {**LOADS, "red-iron-oxide": 0.0}
    check = check_demould(palette, LOADS, BASE, measured(palette, without))
    assert check.causes[0].loads == without
    assert float(cm.delta_e_2000(check.dry_now.lab, palette.predict(without, BASE).lab)) < 0.5
    assert check.dry_delta_e > 10


def test_more_water_makes_it_lighter_and_is_named(palette):
    coefficients = palette.coefficients(BASE, "demould")
    wetter = replace(coefficients, base_s=1.5 * coefficients.base_s)
    lab = mixture.lab(wetter, palette.load_vector(LOADS)[None, :])[0]
    assert lab[0] > palette.predict(LOADS, BASE, "demould").lab[0]
    causes = likely_causes(palette, LOADS, BASE, cm.Shade(lab, sd=0.3))
    water = [cause for cause in causes if cause.kind == "water"]
    assert water, [(c.kind, c.pigment, c.size) for c in causes]
    assert water[0].size == pytest.approx(1.5, rel=0.2)
    assert "more water" in water[0].words


def test_weights_of_the_causes_add_up(palette):
    shade = measured(palette, {**LOADS, "red-iron-oxide": 0.005})
    causes = likely_causes(palette, LOADS, BASE, shade)
    assert sum(cause.weight for cause in causes) == pytest.approx(1.0)
    assert [c.weight for c in causes] == sorted((c.weight for c in causes), reverse=True)


def test_the_dry_shade_follows_the_measured_one(palette):
    lighter = cm.Shade(palette.predict(LOADS, BASE, "demould").lab + np.array([2.0, 0, 0]), sd=0.3)
    check = check_demould(palette, LOADS, BASE, lighter)
    assert 0 < check.dry_now.lab[0] - check.dry_planned.lab[0] < 3
    assert check.dry_now.sd < check.dry_planned.sd


def test_a_wide_band_is_called_wide():
    starter = cm.starter_palette()
    check = check_demould(starter, LOADS, BASE, measured(starter, LOADS))
    assert "band is wide" in check.words


def test_something_no_slip_explains(palette):
    odd = cm.Shade(palette.predict(LOADS, BASE, "demould").lab + np.array([-5.0, -25.0, 20.0]), sd=0.5)
    check = check_demould(palette, LOADS, BASE, odd)
    assert check.track != "on track"
    assert check.causes == () or check.causes[0].left_delta_e < 0.4 * check.delta_e


def test_a_piece_without_pigment(palette):
    check = check_demould(palette, {}, BASE, cm.Shade(palette.predict({}, BASE, "demould").lab - [9, 0, 0], sd=0.5))
    assert all(cause.kind in ("water", "drying") for cause in check.causes)


@pytest.mark.parametrize("loads", [{"no-such": 0.01}, {"red-iron-oxide": 0.5}])
def test_bad_input_is_refused(palette, loads):
    with pytest.raises(ColormatchError, match=r"\.$"):
        check_demould(palette, loads, BASE, cm.Shade((50, 0, 0)))
