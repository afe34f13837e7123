"""The short list: the safest first, the closest in it, all different really, each with a reason."""

import numpy as np
import pytest

import colormatch as cm
from colormatch.recipes.choice import ALLOWANCE, FURTHEST, closest_row, shortlist
from colormatch.recipes.far import FAR
from colormatch.recipes.judging import Judged

from .palettes import targets_in_and_out_of_reach


def judged(loads, **columns):
    loads = np.array(loads, dtype=float)
    count, default = len(loads), np.ones(len(loads))
    names = ("delta_e", "expected_delta_e", "cost", "inconstancy", "metamerism", "slip_delta_e")
    columns.setdefault("metamerism", np.full(count, np.nan))
    arrays = (np.array(columns.get(name, default), dtype=float) for name in names)
    return Judged(loads, np.zeros((count, 3)), np.zeros((count, 3, 3)), *arrays)


def test_of_equally_close_recipes_the_simplest_is_first():
    rows = judged([[0.01, 0.01, 0.01], [0.02, 0.01, 0.0]], delta_e=[0.0, 0.008])
    assert closest_row(rows) == 1
    rows = judged([[0.01, 0.01, 0.01], [0.02, 0.01, 0.0]], delta_e=[0.0, 0.012])
    assert closest_row(rows) == 0


def test_of_equally_close_and_simple_ones_the_safest_is_first():
    rows = judged([[0.01, 0.01, 0], [0.02, 0, 0.01]], delta_e=[0.0, 0.0], expected_delta_e=[3.0, 2.0])
    assert closest_row(rows) == 1


def test_a_virtue_must_not_cost_more_than_the_allowance():
    rows = judged([[0.01, 0, 0], [0, 0.01, 0]], delta_e=[0.0, FURTHEST + 0.1], cost=[10.0, 1.0])
    assert [choice.row for choice in shortlist(rows, 5)] == [0]
    rows = judged([[0.01, 0, 0], [0, 0.01, 0]], delta_e=[0.0, ALLOWANCE - 0.1], cost=[10.0, 1.0])
    assert [choice.row for choice in shortlist(rows, 5)] == [0, 1]


@pytest.mark.parametrize(
    ("column", "word"),
    [
        ("cost", "Cheapest"),
        ("expected_delta_e", "Safest"),
        ("inconstancy", "Steadiest"),
        ("metamerism", "Steadiest"),
        ("slip_delta_e", "Most forgiving"),
    ],
)
def test_each_virtue_is_named_for_what_it_is(column, word):
    rows = judged([[0.01, 0, 0], [0, 0.01, 0]], delta_e=[0.0, 0.5], **{column: [10.0, 6.0]})
    other = next(choice for choice in shortlist(rows, 5) if choice.row == 1)
    assert other.roles[0].startswith(word)


def test_unknown_prices_are_not_called_cheap():
    rows = judged([[0.01, 0, 0], [0, 0.01, 0]], delta_e=[0.0, 0.5], cost=[np.nan, np.nan])
    said = " ".join(reason for choice in shortlist(rows, 5) for reason in choice.roles)
    assert "Cheapest" not in said


def test_near_copies_are_not_shown():
    """The second holds a trace of a third pigment: nobody would call that another recipe."""
    rows = judged([[0.02, 0.01, 0], [0.02, 0.0099, 0.0001]], delta_e=[0.0, 0.1], cost=[2.0, 1.0])
    assert len(shortlist(rows, 5)) == 1


def test_a_recipe_that_saves_a_jar_is_another_recipe():
    rows = judged([[0.02, 0.01, 0.0005], [0.02, 0.0101, 0]], delta_e=[0.0, 0.4])
    first, second = shortlist(rows, 5)
    assert (first.row, second.row) == (0, 1)
    assert second.roles[0] == "Fewest jars, 2 pigments"


def test_a_short_list_goes_further_than_the_allowance_for_another_way():
    rows = judged(np.eye(5) * 0.01, delta_e=[0.0, 1.2, 1.5, 1.9, 2.1])
    assert [choice.row for choice in shortlist(rows, 5)] == [0, 1, 2, 3]
    rows = judged(np.eye(5) * 0.01, delta_e=[0.0, 0.2, 0.5, 1.2, 1.5])
    assert [choice.row for choice in shortlist(rows, 5)] == [0, 1, 2]


def test_the_list_is_best_first_and_its_recipes_differ(twelve):
    targets = [cm.Shade(t) for t in targets_in_and_out_of_reach(twelve, "white-cement", 20)]
    lists = cm.find_recipes(twelve, targets)
    assert max(map(len, lists)) > 2
    for recipes in lists:
        sets = [frozenset(recipe.loads) for recipe in recipes]
        assert len(set(sets)) == len(sets)
        expected = [recipe.expected_delta_e for recipe in recipes]
        if recipes[0].delta_e > FAR:
            continue
        assert expected[0] < min(expected) + 0.05  # of those as safe the one of fewest jars goes first
        assert expected[1:] == sorted(expected[1:])
        for i, one in enumerate(recipes):
            assert one.verdict.startswith(one.reasons[0][:-1])
            for other in recipes[:i]:
                names = set(one.loads) | set(other.loads)
                moved = sum(abs(one.loads.get(n, 0) - other.loads.get(n, 0)) for n in names)
                apart = moved >= 0.15 * (one.total_load + other.total_load) - 1e-9
                assert apart or len(one.loads) != len(other.loads)


@pytest.mark.slow
def test_every_claim_of_the_list_is_true(twelve):
    """What is called cheapest, safest, steadiest or most forgiving is so among the recipes shown."""
    targets = [cm.Shade(t) for t in targets_in_and_out_of_reach(twelve, "white-cement", 60, seed=6)]
    claims = {
        "Cheapest": lambda r: r.cost,
        "Safest": lambda r: r.expected_delta_e,
        "Steadiest": lambda r: r.inconstancy,
        "Most forgiving": lambda r: r.slip_delta_e,
        "Fewest jars": lambda r: len(r.loads),
    }
    seen = set()
    for recipes in cm.find_recipes(twelve, targets):
        if recipes[0].delta_e > FAR:  # there it is said of the colour aimed at
            continue
        for recipe in recipes:
            for reason in recipe.reasons:
                for word, measure in claims.items():
                    if reason.startswith(word):
                        seen.add(word)
                        assert measure(recipe) <= min(map(measure, recipes)) + 1e-9
    assert seen == set(claims)


def test_what_will_come_out_best_goes_first_though_another_is_closer():
    loads = 0.01 * np.eye(4)
    rows = judged(loads, delta_e=[0.0, 0.6, 0.005, 0.004], expected_delta_e=[2.0, 1.95, 4.0, 3.0], cost=[4, 1, 4, 4])
    assert [choice.row for choice in shortlist(rows, 4)] == [1, 0, 3, 2]
    rows = judged(loads[:2], delta_e=[0.01, 0.9], expected_delta_e=[13.5, 8.0])
    assert [choice.row for choice in shortlist(rows, 4)] == [1, 0]


@pytest.mark.parametrize(
    ("expected", "distance", "first"), [(1.03, 0.08, 1), (1.07, 0.08, 0), (1.03, 0.12, 0)], ids=str
)
def test_of_those_no_eye_tells_from_it_the_one_of_fewest_jars_goes_before_the_safest(expected, distance, first):
    rows = judged([[0.02, 0.01, 0], [0, 0, 0.02]], delta_e=[0.0, distance], expected_delta_e=[1.0, expected])
    assert shortlist(rows, 2)[0].row == first


def test_no_more_than_asked_for(twelve):
    for count in (1, 2, 5):
        assert len(cm.find_recipes(twelve, cm.Shade((62, 10, 15)), count=count)) <= count
