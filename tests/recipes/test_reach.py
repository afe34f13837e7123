"""The reach of a palette, its picture, and what is said of a shade beyond it."""

import numpy as np
import pytest

import colormatch as cm
from colormatch import delta_e_2000
from colormatch.errors import InputError
from colormatch.recipes import explain_reach, reach, what_to_buy
from colormatch.recipes.problem import Problem
from colormatch.recipes.solver import solve
from colormatch.workshop.shelf import only


def inside(outline, point):
    """Whether a point is inside a convex outline run through anticlockwise."""
    edges = np.roll(outline, -1, axis=0) - outline
    towards = point - outline
    return bool((edges[:, 0] * towards[:, 1] - edges[:, 1] * towards[:, 0] >= 0).all())


def test_random_recipes_lie_within_the_slices(palette):
    rng, found = np.random.default_rng(5), reach(palette)
    own = np.array([p.maximum_load for p in palette.pigments.values()])
    loads = np.zeros((4000, len(own)))
    for row in loads:
        chosen = rng.choice(len(own), 4, replace=False)
        row[chosen] = rng.dirichlet([1] * 4) * rng.uniform(0, min(0.05, own[chosen].min()))
    lab = palette.predict_many(loads, base="white-cement")
    hits = misses = 0
    for one in found.slices:
        here = lab[np.abs(lab[:, 0] - one.lightness) < 1.0]
        for colour in here:
            if len(one.outline) and inside(one.outline, colour[1:]):
                hits += 1
            else:
                misses += 1
    assert hits > 500
    assert misses <= 0.01 * hits  # the fan is a sample: its rim is a little inside the true one


def test_the_slices_can_be_reached(palette):
    found = reach(palette)
    for one in found.slices:
        for corner in one.outline:
            assert delta_e_2000(found.lab, [one.lightness, *corner]).min() < 3  # half a slice of L*


def test_less_pigment_reaches_less_and_a_grey_base_stays_darker(palette):
    full, less = reach(palette), reach(palette, limits=cm.Limits(load_cap=0.01))
    assert less.lightness_range[0] > full.lightness_range[0] + 3
    assert reach(palette, "grey-cement").lightness_range[1] < full.lightness_range[1]


def test_greys_alone_have_no_outline(palette):
    found = reach(palette, limits=cm.Limits(pigments=[]))
    assert all(len(one.outline) == 0 for one in found.slices)


def test_a_shade_within_reach_is_called_so(palette):
    report = explain_reach(palette, cm.Shade((62, 12, 18)))
    assert report.in_reach
    assert report.distance < 0.01
    assert report.obstacles == report.remedies == ()
    assert report.sentence.startswith("Within reach")


def test_the_distance_is_that_of_the_nearest_shade(palette):
    target = cm.Shade((40, 10, -20))
    report = explain_reach(palette, target)
    assert not report.in_reach
    assert float(delta_e_2000(target.lab, report.nearest.lab)) == pytest.approx(report.distance, abs=1e-6)
    assert f"Out of reach by {report.distance:.1f} dE00" in report.sentence


def said(palette, lab, base="white-cement", **limits):
    report = explain_reach(palette, cm.Shade(lab), base, cm.Limits(**limits))
    return " ".join(report.obstacles), report


def test_it_says_when_the_base_is_too_dark(palette):
    words, report = said(palette, (85, 0, 5), "grey-cement")
    assert "It is lighter than Grey cement itself: L* 85 is wanted" in words
    assert report.remedies[0].what == "white cement as the base"


def test_it_says_when_the_cap_is_in_the_way(palette):
    words, report = said(palette, (60, -15, 10))
    assert "stands at the cap of 5 % pigment" in words
    assert report.remedies[0].what.startswith("a cap of 10 %")


def test_it_says_whose_own_maximum_it_is(palette):
    words, _ = said(palette, (25, 0, 0), pigments=["carbon-black"])
    assert "the own maximum of Carbon black" in words
    assert "It is darker than these jars give: L* 25 is wanted" in words


def test_it_says_when_a_hue_is_missing_and_which_pigment_would_bring_it(palette):
    iron = ["red-iron-oxide", "yellow-iron-oxide", "black-iron-oxide", "titanium-white"]
    words, report = said(palette, (70, 0, -18), pigments=iron)
    assert "has its hue" in words or "It is stronger than these jars give" in words
    assert report.remedies[0].what in ("allowing Ultramarine blue", "allowing Cobalt blue")
    assert report.remedies[0].distance < report.distance - 5


def test_a_starter_pigment_not_on_the_shelf_is_named(palette):
    """A palette without blues: the starter's cobalt or ultramarine would help, and by the solver's own figure."""
    from dataclasses import replace

    kept = {name: p for name, p in palette.pigments.items() if "blue" not in name}
    places = np.concatenate(
        [np.arange(palette.layout.size)[palette.layout.base(name)] for name in palette.bases]
        + [np.arange(palette.layout.size)[palette.layout.pigment(name)] for name in kept]
        + [np.arange(palette.layout.size)[palette.layout.state(name)] for name in palette.states]
    )
    without = replace(
        palette, pigments=kept, mean=palette.mean[places], covariance=palette.covariance[np.ix_(places, places)]
    )
    target = cm.Shade((70, 0, -18))
    report = explain_reach(without, target)
    assert report.remedies[0].what in ("buying Ultramarine blue", "buying Cobalt blue")
    bought = report.remedies[0].what.removeprefix("buying ")
    names = [*kept, *(name for name in palette.pigments if palette.label(name) == bought)]
    with_it = Problem(palette, "white-cement", "dry", cm.Limits(pigments=names))
    assert report.remedies[0].distance == pytest.approx(solve(with_it, target.lab[None])[0].delta_e[0], abs=0.02)


def test_every_remedy_named_brings_it_nearer(palette):
    for lab in ((40, 10, -20), (84, 20, 40), (30, 2, 3)):
        report = explain_reach(palette, cm.Shade(lab), "grey-cement")
        distances = [remedy.distance for remedy in report.remedies]
        assert distances == sorted(distances)
        assert all(distance <= report.distance - 0.5 for distance in distances)


def test_what_to_buy_for_a_shade_and_for_a_list(palette):
    shelf = only(palette, list(palette.bases), [name for name in palette.pigments if name != "red-iron-oxide"])
    targets = [palette.predict({"red-iron-oxide": load}, "white-cement") for load in (0.005, 0.02)]
    best = what_to_buy(shelf, targets)[0]
    assert best.pigment == "red-iron-oxide"
    assert best.after.max() < 1 < best.before.min()
    assert "brings 2 of 2 shades within reach" in best.sentence
    assert what_to_buy(palette, targets) == []  # all the starter kinds are here
    with pytest.raises(InputError, match="No shade is wanted"):
        what_to_buy(shelf, [])


def test_a_shade_met_already_needs_no_jar(palette):
    shelf = only(palette, list(palette.bases), [name for name in palette.pigments if name != "carbon-black"])
    assert what_to_buy(shelf, [palette.predict({"red-iron-oxide": 0.02}, "white-cement")]) == []


@pytest.mark.parametrize(("lab", "base"), [((40, 10, -20), "grey-cement"), ((60, -15, 10), "white-cement")])
def test_what_recipes_have_found_already_tells_the_same(palette, lab, base):
    shelf = only(palette, list(palette.bases), [name for name in palette.pigments if "blue" not in name])
    best = cm.find_recipes(shelf, cm.Shade(lab), base)[0]
    anew = explain_reach(shelf, cm.Shade(lab), base)
    told = explain_reach(shelf, cm.Shade(lab), base, nearest=best.nearest)
    assert told.distance == pytest.approx(anew.distance, abs=1e-3)
    assert told.obstacles == anew.obstacles
    assert [each.what for each in told.remedies] == [each.what for each in anew.remedies]
    assert told.distance <= best.delta_e + 1e-9  # rounding to the scale only takes away


def test_no_other_jar_is_tried_where_buying_is_not_asked_for(palette):
    shelf = only(palette, list(palette.bases), [name for name in palette.pigments if "blue" not in name])
    every = [each.what for each in explain_reach(shelf, cm.Shade((70, 0, -18)), "grey-cement").remedies]
    some = [each.what for each in explain_reach(shelf, cm.Shade((70, 0, -18)), "grey-cement", buying=False).remedies]
    assert any(what.startswith("buying") for what in every)
    assert some == [what for what in every if not what.startswith("buying")]
