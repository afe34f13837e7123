"""The palette: laws of the model as a maker meets them, and how it grows."""

import pickle
from copy import deepcopy

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import colormatch as cm
from colormatch.errors import InputError, LoadError, UnknownNameError
from colormatch.kubelka_munk import reflectance_from_ks

PALETTE = cm.starter_palette()
names = st.sampled_from(list(PALETTE.pigments))


def test_the_starter_palette_has_the_names_of_the_trade():
    assert list(PALETTE.bases) == ["white-cement", "grey-cement"]
    assert list(PALETTE.pigments) == [
        "red-iron-oxide",
        "yellow-iron-oxide",
        "black-iron-oxide",
        "brown-iron-oxide",
        "titanium-white",
        "chromium-oxide-green",
        "cobalt-blue",
        "ultramarine-blue",
        "carbon-black",
    ]


def test_no_pigment_gives_the_base_exactly():
    c = PALETTE.coefficients("grey-cement")
    expected = reflectance_from_ks(c.base_k / c.base_s)
    np.testing.assert_allclose(PALETTE.reflectance({}, "grey-cement"), expected, rtol=1e-12)


@given(names, st.floats(0, 0.09), st.sampled_from(["white-cement", "grey-cement"]))
def test_wet_is_darker_than_dry_at_every_wavelength(pigment, load, base):
    dry, wet = (PALETTE.reflectance({pigment: load}, base, state) for state in ("dry", "wet"))
    assert np.all(wet < dry)


@given(st.sampled_from(["black-iron-oxide", "carbon-black", "red-iron-oxide"]), st.floats(0, 0.09))
def test_more_of_a_dark_pigment_is_darker(pigment, load):
    less, more = (PALETTE.predict({pigment: x}, "white-cement").lab[0] for x in (load, load + 0.01))
    assert more < less


def test_the_many_and_the_one_agree():
    loads = {"red-iron-oxide": 0.02, "titanium-white": 0.01}
    row = PALETTE.load_vector(loads)[None, :]
    many = PALETTE.predict_many(row, base="white-cement", state="sealed")
    np.testing.assert_allclose(many[0], PALETTE.predict(loads, "white-cement", "sealed").lab, atol=1e-9)


def test_every_prediction_carries_its_uncertainty():
    shade = PALETTE.predict({"yellow-iron-oxide": 0.02}, "white-cement")
    assert shade.sd > PALETTE.cast_sd
    _, model_only = PALETTE.predict_with_covariance(
        PALETTE.load_vector({"yellow-iron-oxide": 0.02})[None, :], base="white-cement", casting=False
    )
    np.testing.assert_allclose(shade.covariance - model_only[0], 0.64 * np.eye(3), atol=1e-9)


@pytest.mark.parametrize("load", [-0.01, np.nan, np.inf, 0.11, 5, "two", None, True, [0.01], 10**400])
def test_an_impossible_load_is_refused(load):
    with pytest.raises(LoadError, match="red-iron-oxide"):
        PALETTE.predict({"red-iron-oxide": load}, "white-cement")


def test_loads_in_per_cent_are_recognised():
    with pytest.raises(LoadError, match="a share"):
        PALETTE.predict({"red-iron-oxide": 2}, "white-cement")


@pytest.mark.parametrize("loads", [None, "red-iron-oxide", set(), [("red-iron-oxide", 0.02)], 0.02])
def test_loads_are_given_by_name(loads):
    with pytest.raises(LoadError, match="by name"):
        PALETTE.predict(loads, "white-cement")


@pytest.mark.parametrize("name", [None, [], {}, 3, ("white-cement",)])
def test_what_is_no_name_is_an_unknown_name(name):
    for call in (
        lambda: PALETTE.predict({}, name),
        lambda: PALETTE.predict({}, "white-cement", name),
        lambda: PALETTE.predict({name if name.__hash__ else 3: 0.01}, "white-cement"),
        lambda: PALETTE.with_base("bag", like=3 if name is None else name),  # None: any cement
    ):
        with pytest.raises(UnknownNameError, match=r"There is no (base|pigment|state) called .* Choose one of"):
            call()


def test_it_can_be_copied_and_sent_to_another_process():
    loads = {"red-iron-oxide": 0.02}
    for copy in (deepcopy(PALETTE), pickle.loads(pickle.dumps(PALETTE))):
        assert copy.predict(loads, "grey-cement", "wet") == PALETTE.predict(loads, "grey-cement", "wet")


def test_the_total_may_not_pass_ten_per_cent():
    with pytest.raises(LoadError, match="ASTM C979"):
        PALETTE.predict({"red-iron-oxide": 0.06, "cobalt-blue": 0.06}, "white-cement")


@pytest.mark.parametrize(
    ("arguments", "known"),
    [
        (({"beetroot": 0.01}, "white-cement"), "cobalt-blue"),
        (({}, "clay"), "grey-cement"),
        (({}, "white-cement", "soggy"), "demould"),
        (({}, "white-cement", "sealed:unknown"), "sealed"),
    ],
)
def test_an_unknown_name_is_answered_with_the_known_ones(arguments, known):
    with pytest.raises(UnknownNameError, match=known):
        PALETTE.predict(*arguments)


@pytest.mark.parametrize("loads", [np.zeros((2, 3)), np.zeros(9), np.full((1, 9), np.nan), -np.ones((1, 9))])
def test_a_wrong_table_of_loads_is_refused(loads):
    with pytest.raises(InputError, match=r"must be finite numbers|must have shape|is negative"):
        PALETTE.predict_many(loads, base="white-cement")


def test_drying_runs_from_demould_to_dry():
    loads = {"red-iron-oxide": 0.02}
    lightness = [PALETTE.predict_drying(loads, "white-cement", s).lab[0] for s in (1, 0.6, 0.3, 0)]
    assert lightness == sorted(lightness)
    assert lightness[0] == pytest.approx(PALETTE.predict(loads, "white-cement", "demould").lab[0])
    assert lightness[-1] == pytest.approx(PALETTE.predict(loads, "white-cement", "dry").lab[0])


class TestGrowing:
    def test_an_unknown_pigment_is_widely_uncertain_and_disturbs_nobody(self):
        grown = PALETTE.with_pigment("jar-7")
        assert list(grown.pigments)[-1] == "jar-7"
        assert grown.predict({"jar-7": 0.02}, "white-cement").sd > 10
        same = {"red-iron-oxide": 0.02}
        assert grown.predict(same, "white-cement") == PALETTE.predict(same, "white-cement")

    def test_a_new_lot_starts_from_the_old_one_with_more_uncertainty(self):
        grown = PALETTE.with_pigment("red-lot-2", like="red-iron-oxide", price_per_kg=9.0)
        old, new = (grown.predict({name: 0.02}, "white-cement") for name in ("red-iron-oxide", "red-lot-2"))
        np.testing.assert_allclose(old.lab, new.lab)
        assert new.sd > old.sd
        assert grown.pigments["red-lot-2"].price_per_kg == 9.0

    def test_a_new_bag_inherits_and_a_sealer_gets_its_own_state(self):
        grown = PALETTE.with_base("bag-2", like="grey-cement").with_sealer("beeswax")
        np.testing.assert_allclose(grown.predict({}, "bag-2").lab, grown.predict({}, "grey-cement").lab)
        assert grown.predict({}, "bag-2", "sealed:beeswax").lab[0] < grown.predict({}, "bag-2").lab[0]

    def test_its_covariance_stays_a_covariance(self):
        grown = PALETTE.with_pigment("a").with_base("b").with_pigment("c", like="a").with_sealer("d")
        assert np.linalg.eigvalsh(grown.covariance).min() > -1e-9

    @pytest.mark.parametrize("name", ["", "  ", "red-iron-oxide", 7, None, "two\nlines", "x" * 5000])
    def test_a_taken_or_impossible_name_is_refused(self, name):
        with pytest.raises(InputError, match=r"needs a name|must be one line|already; choose another name"):
            PALETTE.with_pigment(name)

    @pytest.mark.parametrize("name", ["", None, [], "two\nlines"])
    def test_a_sealer_needs_a_name(self, name):
        with pytest.raises(InputError, match=r"A sealer needs a name|name of a sealer must be one line"):
            PALETTE.with_sealer(name)

    @pytest.mark.parametrize("details", [{"bogus": 3}, {"price_per_kg": np.nan}, {"maximum_load": 0.2}])
    def test_impossible_details_are_refused(self, details):
        with pytest.raises(InputError, match=r"no detail called 'bogus'|price per kg is nan|maximum load is 0.2"):
            PALETTE.with_pigment("jar-7", **details)

    def test_an_unknown_model_is_refused(self):
        with pytest.raises(UnknownNameError, match="There is no base called 'sandstone'"):
            PALETTE.with_base("bag", like="sandstone")


def test_a_label_for_cements_and_pigments_and_any_other_name_as_it_stands():
    assert PALETTE.label("white-cement") == "White cement"
    assert PALETTE.label("red-iron-oxide") == "Red iron oxide"
    assert PALETTE.with_pigment("jar-7", label="Brick").label("jar-7") == "Brick"
    assert PALETTE.label("water") == "water"
