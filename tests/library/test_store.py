"""Saving, reading, editing, binning: laws that hold on both databases."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import FrozenInstanceError, replace
from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
import pytest
from examples import HOSTILE, fill, fingerprint

from colormatch import Shade
from colormatch.errors import LibraryError
from colormatch.library import (
    KINDS,
    BatchRecord,
    Cement,
    ConflictError,
    InUseError,
    Mould,
    NotInLibrary,
    PigmentRecord,
    RecipeRecord,
    ShadeRecord,
    Studio,
    Swatch,
    TileRecord,
    Weighing,
    find,
    new_uid,
    open_library,
)


def test_every_kind_reads_back_as_it_was_saved(full):
    for kind in KINDS.values():
        records = full.list(kind)
        assert records, kind
        for record in records:
            assert full.get(kind, record.uid) == record
            assert record.version == 1


def test_what_was_saved_is_there_after_reopening(database):
    where = database()
    with open_library(where) as first:
        fill(first)
        before = fingerprint(first)
    with open_library(where) as second:
        assert fingerprint(second) == before
        assert second.check() == []


def test_hostile_texts_come_back_character_for_character(library):
    for count, text in enumerate([*HOSTILE, "é" * 200], start=1):
        swatch = library.save(Swatch(name=text, notes=text * 50, tags=[text]))
        assert library.get(Swatch, swatch.uid) == swatch
        assert (swatch.name, swatch.tags) == (text, (text,))
        assert swatch in find(library, text=text)
        assert library.count(Swatch) == count


def test_uids_are_readable_and_never_taken_twice(library):
    assert library.save(PigmentRecord(name="Röd Järnoxid 7!")).uid == "rod-jarnoxid-7"
    assert library.save(PigmentRecord(name="röd järnoxid 7")).uid == "rod-jarnoxid-7-2"
    assert library.save(PigmentRecord(name="赤")).uid == "pigment"
    assert library.save(PigmentRecord(name="красный")).uid == "pigment-2"
    assert len({library.save(Swatch(name="x")).uid for _ in range(5)}) == 5


def test_an_edit_keeps_the_earlier_version(library):
    first = library.save(Swatch(name="Pot", tags=["a"], made_on=date(2026, 1, 2)))
    second = library.save(replace(first, name="Tall pot", tags=["b", "c"]))
    third = library.save(replace(second, notes="chipped"))
    assert [v.record for v in library.history(third)] == [first, second, third]
    assert [v.number for v in library.history(third)] == [1, 2, 3]
    back = library.revert(third, 1)
    assert (back.name, back.tags, back.version) == ("Pot", ("a",), 4)
    assert [v.record.name for v in library.history(back)] == ["Pot", "Tall pot", "Tall pot", "Pot"]
    with pytest.raises(NotInLibrary, match="no version 9"):
        library.revert(back, 9)


def test_saving_the_same_again_makes_no_version(library):
    first = library.save(Swatch(name="Pot"))
    assert library.save(first).version == 1
    assert library.save(replace(first, version=0)).version == 1
    assert len(library.history(first)) == 1


def test_nobody_overwrites_what_he_has_not_read(library):
    read = library.save(Swatch(name="Pot"))
    library.save(replace(read, name="Hers"))
    with pytest.raises(ConflictError, match="changed by someone else"):
        library.save(replace(read, name="His"))
    with pytest.raises(ConflictError, match="already in the library"):
        library.save(Swatch(uid=read.uid, name="Another"))
    assert library.get(Swatch, read.uid).name == "Hers"


def test_several_are_saved_all_or_none(library):
    pot = Swatch(uid=new_uid(), name="Pot")
    good = ShadeRecord(swatch_uid=pot.uid, lab=(50, 0, 0))
    with pytest.raises(LibraryError, match="not in the library"):
        library.save_all([pot, good, ShadeRecord(swatch_uid="nowhere", lab=(50, 0, 0))])
    assert fingerprint(library) == {name: [] for name in KINDS}
    assert [record.version for record in library.save_all([pot, good])] == [1, 1]


def test_a_reference_must_lead_somewhere(library):
    with pytest.raises(LibraryError, match="needs the cement 'nowhere', which is not in the library"):
        library.save(TileRecord(cement_uid="nowhere"))
    library.save(Cement(name="White"))
    with pytest.raises(LibraryError, match="needs the pigment 'nowhere'"):
        library.save(TileRecord(cement_uid="white", loads={"nowhere": 0.02}))
    with pytest.raises(LibraryError, match="give the uid of one of them"):
        library.save(ShadeRecord(lab=(50, 0, 0)))


def test_deleting_goes_to_the_bin_with_what_belongs_to_it(full):
    before = fingerprint(full)
    pot = full.get(Swatch, "hostile-03")
    full.delete(pot)
    assert full.find_one(Swatch, pot.uid) is None
    assert full.list(ShadeRecord, swatch_uid=pot.uid) == []
    assert {each.record.uid for each in full.bin()} == {"hostile-03", "hostile-shade-03"}
    with pytest.raises(NotInLibrary, match="in the bin"):
        full.get(Swatch, pot.uid)
    with pytest.raises(ConflictError, match="in the bin"):
        full.save(replace(pot, name="x"))
    assert full.restore(pot) == pot
    assert fingerprint(full) == before
    assert full.bin() == []


def test_the_state_of_a_kind_is_another_after_every_change_and_the_same_after_none(library):
    seen = {library.state_of(Swatch)}

    def changed() -> bool:
        before = len(seen)
        seen.add(library.state_of(Swatch))
        return len(seen) > before

    assert seen == {(0, "")}
    pot = library.save(Swatch(name="Pot"))
    assert changed()
    library.save(Swatch(name="Cup"))
    assert changed()
    pot = library.update(Swatch, pot.uid, lambda each: replace(each, notes="glossy"))  # as many as before
    assert changed()
    library.delete(pot)
    assert changed()
    library.save(Cement(name="White"))
    assert not changed()


def test_what_others_need_cannot_be_deleted(full):
    with pytest.raises(InUseError, match=r"used by .*tile"):
        full.delete(full.get(PigmentRecord, "red-iron-oxide"))
    with pytest.raises(InUseError, match="used by"):
        full.delete(full.get(Swatch, "pot-1"))  # a defect was seen on it
    assert full.bin() == []


def test_a_user_of_the_same_uid_counts_too(library):
    rust = library.save(BatchRecord(uid="rust", name="Rust"))
    library.save(Swatch(uid="rust", name="Rust", batch_uid="rust"))
    with pytest.raises(InUseError, match="used by the swatch 'Rust'"):
        library.delete(rust)


def test_restoring_asks_for_what_is_needed_first(library):
    cement = library.save(Cement(name="White"))
    recipe = library.save(RecipeRecord(name="Plain", cement_uid=cement.uid))
    library.delete(recipe)
    library.delete(cement)
    with pytest.raises(LibraryError, match="Restore the cement 'white' first"):
        library.restore(recipe)
    library.restore(cement)
    assert library.restore(recipe) == recipe
    with pytest.raises(LibraryError, match="in the bin"):
        library.restore(recipe)


def test_emptying_the_bin_is_for_good(full):
    pot = full.save(replace(full.get(Swatch, "hostile-03"), notes="edited"))
    full.delete(pot)
    assert full.empty_bin() == 2
    assert full.empty_bin() == 0
    assert full.bin() == []
    with pytest.raises(NotInLibrary, match="There is no swatch 'hostile-03'"):
        full.history(pot)
    with pytest.raises(ConflictError, match="removed by someone else"):
        full.save(pot)
    assert full.check() == []


def test_everything_can_be_deleted_users_first(full):
    for kind in reversed(KINDS.values()):
        for record in full.list(kind):
            if full.find_one(kind, record.uid):  # it may have gone with what it belongs to
                full.delete(record)
    assert fingerprint(full) == {name: [] for name in KINDS}
    assert full.empty_bin() > 60
    assert full.check() == []


def test_listing_by_field(full):
    assert [w.uid for w in full.list(Weighing, batch_uid="batch-1")] == ["w-1", "w-2", "w-3"]
    assert [s.uid for s in full.list(ShadeRecord, swatch_uid="pot-1", state="wet")] == ["s-2"]
    assert [s.uid for s in full.list(Swatch, uid=["pot-1", "hostile-00", "none"])] == ["hostile-00", "pot-1"]
    assert full.list(Swatch, made_on=date(2026, 4, 9))[0].uid == "pot-1"
    with pytest.raises(LibraryError, match="cannot be listed by"):
        full.list(Swatch, tags="x")


def test_update_reads_and_writes_in_one(full):
    done = full.update(BatchRecord, "batch-1", lambda batch: replace(batch, pieces=batch.pieces + 1))
    assert (done.pieces, done.version) == (4, 2)
    with pytest.raises(NotInLibrary, match="There is no batch 'none'"):
        full.update(BatchRecord, "none", lambda batch: batch)
    with pytest.raises(ZeroDivisionError, match="by zero"):
        full.update(BatchRecord, "batch-1", lambda batch: replace(batch, pieces=1 // 0))
    assert full.get(BatchRecord, "batch-1") == done


def test_threads_of_one_process_share_a_library(library):
    library.save(Studio(name="s", settings={"n": 0}))

    def one_more(_):
        library.update(Studio, "studio", lambda s: replace(s, settings={"n": s.settings["n"] + 1}))

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(one_more, range(80)))
    assert library.get(Studio, "studio").settings == {"n": 80}


def test_a_shade_goes_in_and_comes_out(library):
    shade = Shade((52, 18, 20), covariance=np.diag([0.5, 0.4, 0.3]))
    pot = library.save(Swatch(name="Pot"))
    record = library.save(ShadeRecord.of(shade, swatch_uid=pot.uid, state="wet"))
    assert library.get(ShadeRecord, record.uid).shade() == shade
    assert ShadeRecord(swatch_uid="x", lab=(1, 2, 3)).shade() == Shade((1, 2, 3))


def test_moments_are_kept_in_utc_and_need_an_offset(library):
    batch = library.save(BatchRecord(name="b"))
    at = datetime(2026, 4, 1, 11, 30, tzinfo=timezone(timedelta(hours=2)))
    kept = library.save(Weighing(batch_uid=batch.uid, weighed_at=at))
    assert kept.weighed_at == at
    assert library.get(Weighing, kept.uid).weighed_at.tzinfo == UTC
    with pytest.raises(LibraryError, match="offset from UTC"):
        library.save(Weighing(batch_uid=batch.uid, weighed_at=datetime(2026, 4, 1)))


def test_records_cannot_be_changed_in_place(library):
    with pytest.raises(FrozenInstanceError, match="cannot assign to field 'name'"):
        library.save(Cement(name="x")).name = "y"


@pytest.mark.parametrize(
    ("record", "sentence"),
    [
        (Swatch(name=""), "is empty"),
        (Swatch(name="x" * 10_000), "10000 characters; at most 200"),
        (Swatch(name="a\x00b"), "not text"),
        (Swatch(name="\ud800"), "not text"),
        (Swatch(name=5), "must be text"),
        (Swatch(name="x", tags="not a list"), "must be a list"),
        (Swatch(name="x", made_on="yesterday"), "2026-03-31"),
        (Swatch(uid="../x", name="x"), "cannot be a uid"),
        (PigmentRecord(name="x", maximum_load=0.2), "0 to 0.1"),
        (PigmentRecord(name="x", maximum_load=float("nan")), "0 to 0.1"),
        (PigmentRecord(name="x", warn_below_g=-1), "0 or more"),
        (PigmentRecord(name="x", warn_below_g="5"), "must be a number"),
        (PigmentRecord(name="x", warn_below_g=True), "must be a number"),
        (TileRecord(cement_uid="c", loads={"p": -0.1}), "from 0 to 0.1"),
        (TileRecord(cement_uid="c", loads={"p": 10**400}), "any number"),
        (TileRecord(cement_uid="c", loads=[0.1]), "pigments with their loads"),
        (TileRecord(cement_uid=None), "is missing"),
        (ShadeRecord(swatch_uid="s", lab=(150, 0, 0)), "L\\* runs from 0 to 100"),
        (ShadeRecord(swatch_uid="s", lab=(50, 0)), "shade"),
        (ShadeRecord(swatch_uid="s", lab=(50, 0, 0), covariance=[[1, 0], [0, 1]]), "covariance"),
        (ShadeRecord(swatch_uid="s", lab=(50, 0, 0), covariance=np.diag([1, -1, 1])), "negative variance"),
        (ShadeRecord(swatch_uid="s", lab=(5, 0, 0), wavelength_nm=[400], reflectance=[]), "as many of the one"),
        (ShadeRecord(swatch_uid="s", lab=(5, 0, 0), wavelength_nm=[5, 4], reflectance=[0, 0]), "must increase"),
        (
            ShadeRecord(swatch_uid="s", lab=(5, 0, 0), wavelength_nm=[550], reflectance=[0.5]),
            "wavelengths must increase",
        ),
        (ShadeRecord(swatch_uid="s", lab=(5, 0, 0), wavelength_nm=[500, 600], reflectance=[0, 0]), "400 to 700 nm"),
        (ShadeRecord(swatch_uid="s", lab=(5, 0, 0), state="moist"), "no state.*'moist'|'moist'"),
        (Mould(name="m"), "has no amount"),
        (Mould(name="m", fill_weight_g=0), "0.1 to 100000"),
        (Mould(name="m", volume_ml=1e8), "0.1 to 100000"),
        (BatchRecord(pieces=2.5), "whole number"),
        (BatchRecord(drawn_down="yes"), "true or false"),
        (Studio(name="x", settings={"f": float("inf")}), "any number"),
        (Studio(name="x", settings={"f": object()}), "it may hold text"),
        (Studio(name="x", settings={"load_cap": "much"}), "The setting load_cap of the studio must be a number"),
        (Studio(name="x", settings={"scale_step_g": 0}), "0.0001 to 50"),
        (Studio(name="x", settings={3: 4}), "must be text"),
        (Studio(uid="other", name="x"), "one studio"),
    ],
)
def test_what_is_not_allowed_is_refused_in_words(sqlite_library, record, sentence):
    with pytest.raises(LibraryError, match=sentence) as caught:
        sqlite_library.save(record)
    assert len(str(caught.value)) < 400
    assert fingerprint(sqlite_library) == {name: [] for name in KINDS}


def test_free_content_does_not_swallow_the_stack(sqlite_library):
    deep = []
    for _ in range(10_000):
        deep = [deep]
    with pytest.raises(LibraryError, match="20 deep"):
        sqlite_library.save(Studio(name="x", settings={"deep": deep}))
