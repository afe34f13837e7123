"""Bases of a dose: by hand, there and back, and refused in a sentence."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.basis import BASES, MixProportions, from_loads, said, to_loads
from colormatch.errors import InputError, LoadError

MORTAR = MixProportions(sand=2.0, water=0.4)


@pytest.mark.parametrize(
    ("basis", "amount"),
    [
        ("% of cement", 3.0),
        ("g per kg cement", 30.0),
        ("% of dry mix", 100 * 0.03 / 3.03),  # 1 cement, 2 sand, 0.03 pigment
        ("g per kg dry mix", 1000 * 0.03 / 3.03),
        ("% of total mix", 100 * 0.03 / 3.43),
    ],
)
def test_three_per_cent_of_cement_by_hand(basis, amount):
    assert to_loads({"red": amount}, basis, MORTAR)["red"] == pytest.approx(0.03)
    assert from_loads({"red": 0.03}, basis, MORTAR)["red"] == pytest.approx(amount)


doses = st.dictionaries(st.sampled_from("abcd"), st.floats(0, 0.024), max_size=4)
mixes = st.builds(MixProportions, sand=st.floats(0, 6), water=st.floats(0, 1))


@given(doses, st.sampled_from(BASES), mixes)
def test_there_and_back(loads, basis, mix):
    back = to_loads(from_loads(loads, basis, mix), basis, mix)
    assert back == pytest.approx(loads, abs=1e-12)


def test_the_cap_is_on_cement():
    """4 % of a dry mix with twice as much sand as cement is 12.5 % of the cement."""
    with pytest.raises(LoadError, match=r"12\.5 % of cement"):
        to_loads({"red": 4.0}, "% of dry mix", MixProportions(sand=2.0))
    assert to_loads({"red": 4.0}, "% of dry mix")["red"] == pytest.approx(0.04 / 0.96)


def test_nonsense_is_refused_in_a_sentence():
    with pytest.raises(InputError, match="is no basis; choose one of"):
        to_loads({"red": 1.0}, "% of sand")
    with pytest.raises(InputError, match="leave nothing for the cement"):
        to_loads({"red": 60.0, "blue": 40.0}, "% of dry mix")
    with pytest.raises(InputError, match="The amount of red"):
        to_loads({"red": -1.0}, "% of cement")
    with pytest.raises(InputError, match="The sand per g of cement"):
        MixProportions(sand=-1.0)


def test_the_basis_stands_beside_the_number():
    assert said(2.5, "% of cement") == "2.5 % of cement"
    assert said(25, "g per kg cement") == "25 g per kg cement"
