"""Moist against dry, in a porous mineral that is no cement: 82,427 pairs of soil colours, described by eye.

USDA soil series descriptions as gathered in the repository ncss-tech/soil-color-book (commit 3b9e9cd). It carries no
licence, so only its figures are quoted here. Of moist against dry, lightness falls by 15.2 (standard deviation 7.2);
Y is 0.26, 0.51, 0.73 of the dry one at 5, 50 and 95 %; K/S is 2.26 times it at the median; 99.4 % are darker; and the
best line in CIELAB gives the dry shade back to 4.95 dE00.
"""

import numpy as np
import pytest

import colormatch as cm
from colormatch.colorimetry import lab_to_xyz
from colormatch.kubelka_munk import ks_from_reflectance
from tests.worlds.casting import random_loads

pytestmark = pytest.mark.published(
    source="USDA soil series descriptions, 82,427 moist and dry colours (figures only)",
    covers=["dry_from_wet", "starter_palette"],
)
BASES = ("white-cement", "grey-cement")


@pytest.fixture(scope="module")
def pairs():
    """Wet and dry CIELAB (400, 3) of mixtures in both cements, as the starter palette has them before any tile."""
    palette, rng = cm.starter_palette(), np.random.default_rng(82427)
    some = [palette.load_vector(each) for each in random_loads(rng, tuple(palette.pigments), 200)]
    both = [[palette.predict_many(some, base=base, state=state) for base in BASES] for state in ("wet", "dry")]
    return tuple(np.concatenate(each) for each in both)


def test_it_darkens_as_much_on_average(pairs, figure):
    wet, dry = pairs
    darker = (dry - wet)[:, 0]
    figure("soils.darker", "wet against dry before any tile: lightness lost", darker.mean(), "L*",
           beside="82,427 soils: 15.2")  # fmt: skip
    assert darker.min() > 0
    assert darker.mean() == pytest.approx(15.2, abs=7.2 / 2)


def test_luminance_and_absorption_stand_where_those_of_soils_do(pairs, figure):
    wet, dry = (lab_to_xyz(each)[:, 1] / 100 for each in pairs)
    low, middle, high = np.quantile(wet / dry, [0.05, 0.5, 0.95])
    absorbing = np.median(ks_from_reflectance(wet) / ks_from_reflectance(dry))
    figure("soils.luminance", "wet against dry before any tile: Y, median", middle, beside="82,427 soils: 0.51")
    figure("soils.absorption", "wet against dry before any tile: K/S, median", absorbing, beside="82,427 soils: 2.26")
    assert 0.26 < low < middle < high < 0.73
    assert middle == pytest.approx(0.51, abs=0.1)
    assert absorbing == pytest.approx(2.26, rel=0.4)


@pytest.mark.slow
def test_without_a_recipe_dry_from_wet_is_about_as_sure_as_a_line_through_all_soils(pairs, figure):
    palette = cm.starter_palette()
    said = [cm.dry_from_wet(palette, cm.Shade(lab, sd=0.7), base=BASES[0], state="wet") for lab in pairs[0][:200:20]]
    figure("soils.dry_from_wet", "dry from wet without a recipe, before any tile: stated sd",
           np.mean([each.sd for each in said]), beside="a line through 82,427 soils leaves 4.95 dE00")  # fmt: skip
    assert 4.95 / 2 < np.mean([each.sd for each in said]) < 2 * 4.95
