"""The library driven at random beside a plain model in memory: whatever is done, both hold the same."""

import shutil
import tempfile
from dataclasses import replace

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from colormatch.errors import LibraryError
from colormatch.library import (
    BatchRecord,
    DryingWeight,
    InUseError,
    Piece,
    ShadeRecord,
    Swatch,
    backup,
    export_library,
    import_library,
    open_library,
    restore_into,
)

# field -> kind it points at; those that own come first in a kind's own list
POINTS = {
    "batch": {}, "swatch": {"batch_uid": "batch"}, "piece": {"batch_uid": "batch", "swatch_uid": "swatch"},
    "drying_weight": {"batch_uid": "batch", "piece_uid": "piece"},
    "shade": {"swatch_uid": "swatch", "piece_uid": "piece"},
}  # fmt: skip
OWNED = {("piece", "batch_uid"), ("drying_weight", "batch_uid"), ("drying_weight", "piece_uid"),
         ("shade", "swatch_uid"), ("shade", "piece_uid")}  # fmt: skip
CLASSES = {each.KIND: each for each in (BatchRecord, Swatch, Piece, DryingWeight, ShadeRecord)}
REQUIRED = {"drying_weight": {"mass_g": 400.0, "batch_uid": "batch"}, "shade": {"lab": (50.0, 0.0, 0.0)}}


class Model:
    """Every version of every record, and in which round of binning it went: no more than the docstrings promise."""

    def __init__(self):
        self.versions, self.binned, self.rounds = {}, {}, 0

    def copy(self):
        other = Model()
        other.versions = {key: list(kept) for key, kept in self.versions.items()}
        other.binned, other.rounds = dict(self.binned), self.rounds
        return other

    def points_at(self, key, record):
        return [(kind, getattr(record, name)) for name, kind in POINTS[key[0]].items() if getattr(record, name)]

    def present(self, key):
        return key in self.versions and key not in self.binned

    def here(self):
        return [key for key in self.versions if key not in self.binned]

    def belongings(self, key, among):
        """What belongs to a record, owners first, of the records given."""
        own = [
            other for other in among
            if any((other[0], name) in OWNED and kind == key[0] and getattr(self.versions[other][-1], name) == key[1]
                   for name, kind in POINTS[other[0]].items())
        ]  # fmt: skip
        deeper = [each for other in own for each in self.belongings(other, among)]
        return list(dict.fromkeys([*own, *deeper]))

    def users(self, key):
        return {other for other in self.here() if key in self.points_at(other, self.versions[other][-1])}


uids, notes = st.sampled_from(["a", "b", "c"]), st.sampled_from(["", "x", "y"])
maybe = st.none() | uids


class Machine(RuleBasedStateMachine):
    @initialize()
    def begin(self):
        self.folder = tempfile.mkdtemp()
        self.library = open_library(f"{self.folder}/library")
        self.model, self.kept = Model(), None

    def teardown(self):
        if hasattr(self, "library"):
            assert self.library.check() == []
            self.library.close()
            shutil.rmtree(self.folder)

    def made(self, kind, uid, notes, ends):
        fields = dict(REQUIRED.get(kind, {}))
        for (name, _), end in zip(POINTS[kind].items(), ends, strict=False):
            fields[name] = end if end or name not in fields else "a"
        if "name" in CLASSES[kind].__dataclass_fields__:
            fields["name"] = f"{kind} {uid}"
        return CLASSES[kind](uid=uid, notes=notes, **fields)

    def keep(self, key, record):
        """Save a record, and the model beside it; a refusal must be one that the model expects."""
        whole = key[0] != "shade" or record.swatch_uid or record.piece_uid
        there = self.model.versions.get(key)
        stale = record.version != (len(there) if there else 0)
        same = there is not None and there[-1] == record
        refused = (
            not whole
            or key in self.model.binned
            or (stale and not (same and record.version == 0))
            or not (same or all(map(self.model.present, self.model.points_at(key, record))))
        )
        if refused:
            with pytest.raises(LibraryError, match=r"\.$"):
                self.library.save(record)
            return
        saved = self.library.save(record)
        if not same:
            self.model.versions.setdefault(key, []).append(record)
        assert saved.version == len(self.model.versions[key])

    @rule(
        kind=st.sampled_from(sorted(POINTS)),
        uid=uids,
        notes=notes,
        ends=st.tuples(maybe, maybe),
    )
    def save_new(self, kind, uid, notes, ends):
        self.keep((kind, uid), self.made(kind, uid, notes, ends))

    @rule(
        data=st.data(),
        notes=notes,
        ends=st.tuples(maybe, maybe),
        behind=st.sampled_from([0, 0, 0, 1]),
    )
    @precondition(lambda self: self.model.versions)
    def edit(self, data, notes, ends, behind):
        key = data.draw(st.sampled_from(sorted(self.model.versions)))
        version = max(len(self.model.versions[key]) - behind, 1)
        self.keep(key, replace(self.made(*key, notes, ends), version=version))

    @rule(data=st.data())
    @precondition(lambda self: self.model.versions)
    def delete(self, data):
        key = data.draw(st.sampled_from(sorted(self.model.versions)))
        record = self.model.versions[key][-1]
        if key in self.model.binned:
            with pytest.raises(LibraryError, match=r"\.$"):
                self.library.delete(record)
            return
        going = [key, *self.model.belongings(key, self.model.here())]
        if any(self.model.users(each) - set(going) for each in going):
            with pytest.raises(InUseError, match="delete these first"):
                self.library.delete(record)
            return
        self.library.delete(record)
        self.model.rounds += 1
        self.model.binned |= dict.fromkeys(going, self.model.rounds)

    @rule(data=st.data())
    @precondition(lambda self: self.model.binned)
    def restore(self, data):
        key = data.draw(st.sampled_from(sorted(self.model.binned)))
        model, record = self.model, self.model.versions[key][-1]
        if any(each in model.binned for each in model.points_at(key, record)):
            with pytest.raises(LibraryError, match=r"Restore the .* first"):
                self.library.restore(record)
            return
        self.library.restore(record)
        together = [each for each, number in model.binned.items() if number == model.binned[key]]
        del model.binned[key]
        for each in model.belongings(key, together):
            if not any(other in model.binned for other in model.points_at(each, model.versions[each][-1])):
                model.binned.pop(each, None)

    @rule(data=st.data())
    @precondition(lambda self: self.model.here())
    def revert(self, data):
        key = data.draw(st.sampled_from(sorted(self.model.here())))
        versions = self.model.versions[key]
        number = data.draw(st.integers(1, len(versions)))
        earlier = versions[number - 1]
        if earlier != versions[-1] and not all(map(self.model.present, self.model.points_at(key, earlier))):
            with pytest.raises(LibraryError, match=r"\.$"):
                self.library.revert(versions[-1], number)
            return
        self.library.revert(versions[-1], number)
        if earlier != versions[-1]:
            versions.append(earlier)

    @rule()
    def empty_bin(self):
        assert self.library.empty_bin() == len(self.model.binned)
        for key in self.model.binned:
            del self.model.versions[key]
        self.model.binned.clear()

    @rule()
    def reopen(self):
        self.library.close()
        self.library = open_library(f"{self.folder}/library")

    @rule()
    def back_up(self):
        self.kept = (backup(self.library, f"{self.folder}/b.zip", even_if_smaller=True).path, self.model.copy())

    @rule()
    @precondition(lambda self: self.kept is not None)
    def go_back(self):
        path, then = self.kept
        self.asides = getattr(self, "asides", 0) + 1
        restore_into(self.library, path, f"{self.folder}/aside-{self.asides}.zip", even_if_smaller=True)
        self.model = then.copy()
        self.model.rounds += 1000 * self.asides  # rounds of before and after are not the same

    @rule()
    def give_away_and_take_in(self):
        """An export holds what is outside the bin, and its import adds nothing to it."""
        path = export_library(self.library, f"{self.folder}/out.zip")
        report = import_library(self.library, path)
        assert (report.added, report.changed) == ({}, [])

    @invariant()
    def both_hold_the_same(self):
        if not hasattr(self, "library"):
            return
        for kind, cls in CLASSES.items():
            expected = {key[1]: kept[-1] for key, kept in self.model.versions.items() if key[0] == kind}
            found = {each.uid: each for each in self.library.list(cls)}
            assert found == {uid: each for uid, each in expected.items() if (kind, uid) not in self.model.binned}
        assert {(each.record.KIND, each.record.uid) for each in self.library.bin()} == set(self.model.binned)
        for kept in self.model.versions.values():
            assert [each.record for each in self.library.history(kept[-1])] == kept


TestLibrary = pytest.mark.slow(Machine.TestCase)
TestLibrary.settings = settings(max_examples=5, stateful_step_count=20)


@pytest.mark.measure
@pytest.mark.timeout(3600)
def test_for_long():
    """The same, two hundred runs of fifty steps."""
    from hypothesis.stateful import run_state_machine_as_test

    run_state_machine_as_test(Machine, settings=settings(max_examples=200, stateful_step_count=50))
