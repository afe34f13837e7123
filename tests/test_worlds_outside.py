"""Laws that the outside worlds must keep: conservation, limits, order of the states, seeds."""

import numpy as np
import pytest

from colormatch.difference import delta_e_2000
from tests.worlds import layers
from tests.worlds.outside import OUTSIDE_WORLDS, HapkeWorld, SpeckledWorld, hapke_factor, hapke_h, hidden, sieve
from tests.worlds.transfer import h_function

SEEDS = (0, 1, 2)
ALBEDOS = np.array([0.2, 0.6, 0.9, 0.99, 0.9999])


@pytest.fixture(
    params=[(kind, seed) for kind in OUTSIDE_WORLDS for seed in SEEDS], ids=lambda p: f"{p[0].__name__}-{p[1]}"
)
def world(request):
    kind, seed = request.param
    return kind(seed)


def ladder(world, name, loads=(0.0, 0.005, 0.02, 0.05)):
    return np.array([world.row({name: load}) for load in loads])


def test_the_semi_infinite_limit_is_chandrasekhars():
    exact = 1 - np.sqrt(1 - ALBEDOS) * h_function(np.sqrt(1 - ALBEDOS), np.array([1.0]))[:, 0]
    assert layers.leaving_normal(layers.semi_infinite(ALBEDOS, 0.0)) == pytest.approx(exact, abs=1e-6)


def test_a_layer_that_absorbs_nothing_loses_no_light():
    for g in (0.0, 0.5, 0.7):
        reflection, transmission = layers.layer(np.ones(3), g, np.array([0.1, 2.0, 40.0]))
        for leaving in (layers.leaving_normal, layers.leaving_even):
            assert leaving(reflection) + leaving(transmission) == pytest.approx(1.0, abs=1e-6)


def test_under_a_film_all_light_that_entered_leaves_where_nothing_absorbs():
    seen = layers.under_film(layers.semi_infinite(np.ones(1), 0.5), 1.33)
    assert seen == pytest.approx(1 - ((1.33 - 1) / (1.33 + 1)) ** 2, abs=2e-4)  # the albedo stops at 1 - 1e-10


def test_two_layers_make_one_of_twice_the_depth_and_a_body_stays_itself_under_its_own_skin():
    albedo = ALBEDOS[:, None]
    reflection, transmission = layers.layer(albedo, 0.5, np.full(albedo.shape, 1.5))
    double, _ = layers.layer(albedo, 0.5, np.full(albedo.shape, 3.0))
    assert layers.on_top(reflection, transmission, reflection) == pytest.approx(double, abs=1e-9)
    body = layers.semi_infinite(albedo, 0.5)
    assert layers.on_top(reflection, transmission, body) == pytest.approx(body, abs=1e-9)


def test_fresnel_inside_keeps_the_reciprocity_of_lekner_and_dorf():
    """1 - inside = (1 - outside) / n^2, both integrated over the half space."""
    cosine, weights = np.polynomial.legendre.leggauss(400)
    outside = (weights * 0.5 * (cosine + 1) * layers.fresnel(0.5 * (cosine + 1), 1.33)).sum()
    assert 1 - layers.diffuse_inside(1.33) == pytest.approx((1 - outside) / 1.33**2, abs=1e-4)


def test_hapkes_h_is_near_the_exact_one():
    """Hapke (2002): within 1 % everywhere."""
    for cosine in (0.3, np.sqrt(0.5), 1.0):
        exact = h_function(np.sqrt(1 - ALBEDOS), np.array([cosine]))[:, 0]
        assert hapke_h(ALBEDOS, cosine) == pytest.approx(exact, rel=0.01)


def test_hapkes_factor_runs_from_nothing_to_a_white_surface():
    assert hapke_factor(0.0, 0.0) == 0.0
    assert hapke_factor(1.0, 0.0) == pytest.approx(1.0, abs=0.03)
    assert (np.diff(hapke_factor(np.linspace(0, 1, 100), -0.2)) > 0).all()


def test_hiding_takes_what_it_says_at_five_percent():
    world = HapkeWorld(3)
    kept = hidden(np.full(9, 0.05), world.hiding) / 0.05
    assert ((kept > 0.75) & (kept < 1)).all()
    assert np.ptp(kept) > 0.05
    assert hidden(np.full(9, 1e-6), world.hiding) == pytest.approx(1e-6, rel=1e-3)


def test_the_sieve_lets_small_grains_be():
    assert sieve(np.array([1e-6, 0.019999, 0.020001])) == pytest.approx([1.0, 0.9925, 0.9925], abs=1e-4)
    assert sieve(np.array([50.0])) == pytest.approx(1.5 / 50, rel=1e-3)  # black grains: their shadow only
    assert (np.diff(sieve(np.linspace(0.03, 20, 200))) < 0).all()


def test_without_specks_a_speckled_piece_is_its_ground():
    world = SpeckledWorld(1)
    rows = ladder(world, "red-iron-oxide")
    world.kept = np.zeros_like(world.kept)
    even = world.reflectance_many(rows)
    world.spread = 1.0
    assert world.reflectance_many(rows) == pytest.approx(even, abs=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_specks_leave_the_piece_paler(seed):
    """R is convex in the load, so the same pigment gathered in specks takes less light."""
    world = SpeckledWorld(seed)
    rows = ladder(world, "black-iron-oxide", (0.01, 0.03))
    specked = world.reflectance_many(rows)
    world.kept = np.zeros_like(world.kept)
    assert (specked > world.reflectance_many(rows)).all()


@pytest.mark.slow
@pytest.mark.parametrize("base", ["white-cement", "grey-cement"])
def test_more_black_is_darker_and_reflectance_stays_within_0_and_1(world, base):
    for state in world.states:
        seen = world.reflectance_many(ladder(world, "black-iron-oxide"), base, state)
        assert ((seen > 0) & (seen < 1)).all()
        assert (np.diff(seen, axis=0) < 0).all()


@pytest.mark.parametrize("base", ["white-cement", "grey-cement"])
def test_demould_is_darker_than_wet_and_wet_than_sealed_or_dry(world, base):
    rows = np.vstack([ladder(world, name) for name in ("red-iron-oxide", "titanium-white", "ultramarine-blue")])
    lightness = {state: world.lab_many(rows, base, state)[:, 0] for state in world.states}
    assert (lightness["demould"] < lightness["wet"]).all()
    assert (lightness["wet"] < lightness["dry"]).all()
    assert (lightness["sealed"] < lightness["dry"]).all()


def test_a_piece_that_has_lost_its_water_is_dry_again(world):
    rows = ladder(world, "yellow-iron-oxide")
    dry = world.reflectance_many(rows)
    assert world.reflectance_many(rows, state="wet", saturation=0.0) == pytest.approx(dry, abs=1e-12)
    half = world.reflectance_many(rows, state="wet", saturation=0.5)
    assert ((half < dry) & (half > world.reflectance_many(rows, state="wet"))).all()


@pytest.mark.slow
@pytest.mark.parametrize("kind", OUTSIDE_WORLDS)
def test_wetting_takes_what_was_measured_on_concrete(kind):
    """Mean reflectance 0.59 falls to about 0.36 (from memory); in each studio to 0.28..0.46."""
    after = []
    for seed in range(8):
        world = kind(seed)
        rows = ladder(world, "black-iron-oxide", np.linspace(0, 0.02, 200))
        nearest = np.abs(world.reflectance_many(rows).mean(axis=1) - 0.59).argmin()
        after.append(world.reflectance_many(rows[nearest], state="wet").mean())
    assert 0.32 < np.mean(after) < 0.42
    assert min(after) > 0.28
    assert max(after) < 0.46


@pytest.mark.parametrize("kind", OUTSIDE_WORLDS)
def test_red_in_white_looks_like_red_concrete(kind):
    """Mean over studios; what is expected is from memory."""
    lab = np.mean([kind(seed).lab({"red-iron-oxide": 0.02}) for seed in range(8)], axis=0)
    assert (np.array([42, 15, 8]) < lab).all()
    assert (lab < np.array([60, 28, 22])).all()


@pytest.mark.parametrize("kind", OUTSIDE_WORLDS)
def test_everything_follows_from_the_seed(kind):
    few, again, other = kind(5, pigments=("red-iron-oxide", "jar-1")), kind(5), kind(6)
    loads = {"red-iron-oxide": 0.02}
    assert few.lab(loads) == pytest.approx(again.lab(loads), abs=1e-9)  # whatever else the studio holds
    assert delta_e_2000(again.lab(loads), other.lab(loads)) > 0.5
    assert few.lab({"jar-1": 0.03}) == pytest.approx(kind(5, pigments=("jar-1",)).lab({"jar-1": 0.03}), abs=1e-9)
    cast = [few.cast(loads, rng=np.random.default_rng(1)) for _ in range(2)]
    assert (cast[0] == cast[1]).all()
