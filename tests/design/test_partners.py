"""Partners: the relation is the one asked for, recipes keep to the limits, shared pigments come first."""

import numpy as np
import pytest

import colormatch as cm
from colormatch.design import LibraryShade, partners, relation
from colormatch.design.pairing import round_mixes
from colormatch.errors import InputError, UnknownNameError
from colormatch.recipes.limits import Limits

PALETTE = cm.starter_palette()
TERRACOTTA = {"red-iron-oxide": 0.02, "yellow-iron-oxide": 0.01}


@pytest.mark.parametrize(
    ("second", "kind"),
    [
        ((70, 18, 20), "lighter"),
        ((35, 18, 20), "darker"),
        ((53, 2, 26), "near hue"),
        ((55, -14, -16), "opposite hue"),
        ((52, 18, 20), None),
        ((90, -14, -16), None),  # opposite, but too far in lightness to be a partner in hue
        ((75, 0.5, 1), "lighter"),  # a grey goes with any hue
    ],
)
def test_relations_of_a_terracotta(second, kind):
    assert relation((52, 18, 20), second) == kind


def test_suggestions_are_what_they_say():
    first = PALETTE.predict(TERRACOTTA, "white-cement").lab
    found = partners(PALETTE, TERRACOTTA, base="white-cement")
    assert {partner.relation for partner in found} == {"lighter", "darker", "near hue", "opposite hue"}
    for partner in found:
        shade = PALETTE.predict(partner.loads, partner.base)
        assert partner.shade == shade
        assert relation(first, shade.lab) == partner.relation
        assert partner.delta_e == pytest.approx(float(cm.delta_e_2000(first, shade.lab)))
        assert partner.delta_e >= 4
        assert set(partner.shared) == set(partner.loads) & set(TERRACOTTA)
        assert sum(partner.loads.values()) <= 0.05 + 1e-12
    assert sum(bool(partner.shared) for partner in found) >= len(found) - 1


def test_the_library_is_asked_first_for_what_it_has():
    night = LibraryShade("Night", cm.Shade((32, 9, 10), sd=0.5), "white-cement", {"red-iron-oxide": 0.03})
    noise = LibraryShade("Same", cm.Shade(PALETTE.predict(TERRACOTTA, "white-cement").lab))
    found = partners(PALETTE, TERRACOTTA, base="white-cement", library=[noise, night])
    mine = [partner for partner in found if partner.origin == "library"]
    assert [(p.name, p.relation, p.shared) for p in mine] == [("Night", "darker", ("red-iron-oxide",))]


def test_limits_hold_in_every_suggestion():
    limits = Limits(load_cap=0.03, max_pigments=2, never_use=["red-iron-oxide"])
    for partner in partners(PALETTE, cm.Shade((52, 18, 20)), base="grey-cement", limits=limits, count=4):
        assert sum(partner.loads.values()) <= 0.03 + 1e-12
        assert len(partner.loads) <= 2
        assert "red-iron-oxide" not in partner.loads


def test_what_must_be_used_is_in_every_suggestion():
    limits = Limits(must_use=["red-iron-oxide"])
    found = partners(PALETTE, TERRACOTTA, base="white-cement", limits=limits)
    assert {partner.relation for partner in found} >= {"lighter", "darker"}
    assert all(partner.loads["red-iron-oxide"] > 0 for partner in found)
    every, must = round_mixes(PALETTE, Limits()), round_mixes(PALETTE, limits)
    red = list(PALETTE.pigments).index("red-iron-oxide")
    np.testing.assert_array_equal(must, every[every[:, red] > 0])
    too_many = Limits(must_use=list(PALETTE.pigments)[:4])  # at most three are tried
    assert len(round_mixes(PALETTE, too_many)) == 0
    assert partners(PALETTE, TERRACOTTA, base="white-cement", limits=too_many) == ()


def test_the_fan_is_all_mixes_within_the_caps():
    loads = round_mixes(PALETTE, Limits(load_cap=0.05))
    maxima = np.array([pigment.maximum_load for pigment in PALETTE.pigments.values()])
    caps = np.where(loads > 0, maxima, 0.05).min(axis=1)
    assert (loads.sum(axis=1) <= np.minimum(caps, 0.05) + 1e-12).all()
    assert len(np.unique(loads, axis=0)) == len(loads)
    assert (loads[0] == 0).all()
    only = round_mixes(PALETTE, Limits(pigments=["carbon-black"]))
    assert len(only) == 1 + sum(load <= maxima[-1] for load in (0.001, 0.0025, 0.005, 0.01, 0.02, 0.03, 0.05))


def test_a_grey_has_no_opposite_hue():
    found = partners(PALETTE, cm.Shade((60, 0.4, 0.8)), base="white-cement")
    assert {partner.relation for partner in found} == {"lighter", "darker"}


def test_unknown_names_and_counts_are_refused():
    with pytest.raises(UnknownNameError, match="blue-cement"):
        partners(PALETTE, TERRACOTTA, base="blue-cement")
    with pytest.raises(UnknownNameError, match="jar-9"):
        partners(PALETTE, TERRACOTTA, base="white-cement", limits=Limits(pigments=["jar-9"]))
    with pytest.raises(InputError, match="0; it must be 1 to 20"):
        partners(PALETTE, TERRACOTTA, base="white-cement", count=0)
