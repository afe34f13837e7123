"""The read-only mapping: what it holds stays, and it travels."""

import copy
import pickle

import pytest

from colormatch.frozen import FrozenMapping


def test_a_later_change_of_the_source_does_not_reach_it():
    source = {"red": 0.02}
    frozen = FrozenMapping(source)
    source["red"] = 0.5
    assert frozen["red"] == 0.02


def test_it_cannot_be_changed_or_hashed():
    frozen = FrozenMapping({"red": 0.02})
    with pytest.raises(TypeError, match="does not support item assignment"):
        frozen["red"] = 0.1
    with pytest.raises(TypeError, match="unhashable"):
        hash(frozen)


def test_it_keeps_its_order_and_equals_a_dict_of_the_same():
    frozen = FrozenMapping({"b": 1, "a": 2})
    assert list(frozen) == ["b", "a"]
    assert frozen == {"a": 2, "b": 1}
    assert frozen != {"a": 2}
    assert repr(frozen) == "{'b': 1, 'a': 2}"


def test_joining_makes_a_new_one_and_the_right_side_wins():
    first = FrozenMapping({"a": 1, "b": 2})
    joined = first | {"b": 3, "c": 4}
    assert joined == {"a": 1, "b": 3, "c": 4}
    assert isinstance(joined, FrozenMapping)
    assert first == {"a": 1, "b": 2}


def test_pickled_and_copied_it_is_the_same():
    frozen = FrozenMapping({"red": 0.02})
    for other in (pickle.loads(pickle.dumps(frozen)), copy.deepcopy(frozen), copy.copy(frozen)):
        assert other == frozen
        assert isinstance(other, FrozenMapping)
