"""Shades far out of reach: the nearest by eye keeps the hue, and says what is lost."""

import numpy as np
import pytest

import colormatch as cm
from colormatch.colorimetry import hex_to_lab
from colormatch.recipes.far import FAR, distance_by_eye, solve_by_eye
from colormatch.recipes.problem import Problem
from colormatch.recipes.solver import solve
from colormatch.recipes.starts import coarse_grid

WITHIN, SAME_HUE, COLOURED, HAS_HUE, GREY = 1.25, 30.0, 10.0, 5.0, 5.0  # what the answer is held to


def hue_off(lab, target):
    """Degrees between the hues of colours (..., 3) and of a target (3,)."""
    mix, wanted = lab[..., 1] + 1j * lab[..., 2], target[1] + 1j * target[2]
    return np.abs(np.degrees(np.angle(mix * np.conj(wanted))))


def far_targets(palette, base, count, rng):
    """Anywhere in a wide box, further than FAR from all that can be mixed."""
    box = np.column_stack([rng.uniform(5, 98, 4 * count), *rng.uniform(-90, 90, (2, 4 * count))])
    found = solve(Problem(palette, base, "dry", cm.Limits()), box)
    return box[[candidates.delta_e[0] > FAR for candidates in found]][:count]


def strong_targets(count, rng):
    """Pinks, roses, magentas (half), turquoises and strong blues."""
    hue = np.radians(
        np.concatenate([
            rng.uniform(330, 380, count // 2), rng.uniform(180, 215, count // 5),
            rng.uniform(255, 300, count - count // 2 - count // 5),
        ])
    )  # fmt: skip
    chroma = rng.uniform(35, 90, count)
    return np.column_stack([rng.uniform(35, 80, count), chroma * np.cos(hue), chroma * np.sin(hue)])


def everything_mixed(palette, base, rng, mixes=20_000):
    """CIELAB of a dense grid of up to three pigments, and of random mixes of four."""
    problem = Problem(palette, base, "dry", cm.Limits())
    grid, _ = coarse_grid(problem, np.geomspace(0.01, 1, 14), 6)
    four = np.zeros((mixes, len(problem.names)))
    for row in four:
        row[rng.choice(len(row), 4, replace=False)] = rng.dirichlet([0.7] * 4)
    own = np.where(four > 0, problem.own_maximum, np.inf).min(axis=1)
    four *= (np.minimum(own, 0.05) * rng.uniform(0.02, 1, mixes))[:, None]
    return problem.lab(np.concatenate([grid, four]))


def missed(palette, base, targets, rng):
    """Targets whose first recipe has another hue though one of theirs is as near; and greys of opposite hue."""
    cloud, found = everything_mixed(palette, base, rng), []
    for target, recipes in zip(targets, cm.find_recipes(palette, [cm.Shade(t) for t in targets], base), strict=True):
        first = recipes[0].predict().lab
        apart, off = np.linalg.norm(cloud - target, axis=1), float(hue_off(first, target))
        least = min(apart.min(), np.linalg.norm(first - target))
        of_the_hue = (apart <= WITHIN * least) & (hue_off(cloud, target) <= SAME_HUE)
        of_the_hue &= np.hypot(cloud[:, 1], cloud[:, 2]) > HAS_HUE
        chroma = np.hypot(first[1], first[2])
        if np.hypot(target[1], target[2]) > COLOURED and (
            (of_the_hue.any() and off > SAME_HUE) or (1.5 < chroma < GREY and off > 120)
        ):
            found.append((target.round(1), first.round(1)))
    return found


@pytest.mark.slow
def test_hue_is_kept_where_it_can_be(palette):
    rng = np.random.default_rng(3)
    targets = np.concatenate([far_targets(palette, "white-cement", 60, rng), strong_targets(20, rng)])
    assert missed(palette, "white-cement", targets, rng) == []


@pytest.mark.measure
@pytest.mark.parametrize("seed", [11, 21])
def test_hue_is_kept_where_it_can_be_on_five_hundred_targets(palette, seed):
    rng, found = np.random.default_rng(seed), []
    for base, count, strong in (("white-cement", 240, 60), ("grey-cement", 200, 0)):
        targets = np.concatenate([far_targets(palette, base, count, rng), strong_targets(strong, rng)])
        found += missed(palette, base, targets, rng)
    assert found == []


def test_a_pale_violet_in_grey_cement_keeps_its_hue_though_few_mixes_have_it(palette):
    """A strong red beside much white: even shares of grams miss it, and slopes lead to a grey-green."""
    wanted = np.array([85.6, 19.6, -25.0])
    first = cm.find_recipes(palette, cm.Shade(wanted), "grey-cement")[0].predict().lab
    assert hue_off(first, wanted) < SAME_HUE
    assert np.hypot(first[1], first[2]) > HAS_HUE


@pytest.mark.slow
@pytest.mark.parametrize("base", ["white-cement", "grey-cement"])
def test_hardly_any_mix_is_nearer_by_eye_than_what_is_aimed_at(palette, base):
    rng = np.random.default_rng(5)
    targets, cloud = far_targets(palette, base, 60, rng), everything_mixed(palette, base, rng)
    _, aims = solve_by_eye(Problem(palette, base, "dry", cm.Limits()), targets)
    for target, aim in zip(targets, aims, strict=True):
        if (aim != target).any():
            assert distance_by_eye(aim, target) <= 1.1 * distance_by_eye(cloud, target).min()


def test_hot_pink_gets_no_grey_green_and_deep_blue_no_black(palette):
    for wanted in (hex_to_lab("#ff69b4"), np.array([20.0, 0, -80])):
        first = cm.find_recipes(palette, cm.Shade(wanted))[0]
        lab = first.predict().lab
        assert hue_off(lab, wanted) < SAME_HUE
        assert np.hypot(lab[1], lab[2]) > HAS_HUE
        assert "chroma" in first.reasons[-1]


def test_distance_by_eye_is_plain_for_greys_and_longer_for_another_hue():
    lab = np.array([[50.0, 20, 0], [50, 0, 20], [50, 0, 0]])
    grey = np.array([40.0, 3, 4])
    np.testing.assert_allclose(distance_by_eye(lab, grey), np.linalg.norm(lab - grey, axis=1))
    red = np.array([50.0, 60, 0])
    same, other, none = distance_by_eye(lab, red) / np.linalg.norm(lab - red, axis=1)
    assert same == 1
    assert other == none > 1.25


def test_in_reach_nothing_changes(palette):
    problem = Problem(palette, "white-cement", "dry", cm.Limits())
    targets = np.array([[62.0, 12, 18], [40, 5, 5]])
    found, aims = solve_by_eye(problem, targets)
    np.testing.assert_array_equal(aims, targets)
    for ours, plain in zip(found, solve(problem, targets), strict=True):
        np.testing.assert_array_equal(ours.loads, plain.loads)
