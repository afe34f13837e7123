"""Work in hand: kept at each change, seen from every device, never overwritten unseen, undone step by step."""

from dataclasses import replace

import pytest

from colormatch.library import (
    BatchRecord,
    ConflictError,
    Draft,
    DryingWeight,
    NotInLibrary,
    Piece,
    ShadeRecord,
    Swatch,
    draft,
    drop_draft,
    open_library,
    save_draft,
    undo_draft,
)
from colormatch.library.drafts import STEPS_BACK


def test_what_is_in_hand_is_there_from_another_device_and_after_reopening(database):
    where = database()
    with open_library(where) as phone:
        first = save_draft(phone, "bowl", "batch-1", content={"readings": [311.0]}, title="Monday", device="phone")
        save_draft(phone, "bowl", "batch-1", content={"readings": [311.0, 4.2]}, seen=first, title="Monday")
        save_draft(phone, "match", content={"marks": [0.1, 0.2]})
    with open_library(where) as laptop:
        there = draft(laptop, "bowl", "batch-1")
        assert (there.content, there.title, there.version) == ({"readings": [311.0, 4.2]}, "Monday", 2)
        assert {each.what for each in laptop.list(Draft)} == {"bowl", "match"}
        assert draft(laptop, "bowl", "another") is None


def test_a_change_that_was_not_seen_is_never_overwritten(library):
    seen = save_draft(library, "bowl", content={"step": 1})
    theirs = save_draft(library, "bowl", content={"step": 2}, seen=seen)
    for stale in (seen, None):
        with pytest.raises(ConflictError, match=r"already in the library|changed by someone else"):
            save_draft(library, "bowl", content={"step": 3}, seen=stale)
    assert draft(library, "bowl") == theirs
    assert save_draft(library, "bowl", content={"step": 2}, seen=seen) == theirs  # both did the same
    drop_draft(library, theirs)
    with pytest.raises(ConflictError, match="in the bin"):
        save_draft(library, "bowl", content={"step": 3}, seen=theirs)


def test_what_was_kept_since_it_was_seen_is_not_thrown_away(library):
    seen = save_draft(library, "bowl", content={"step": 1})
    theirs = save_draft(library, "bowl", content={"step": 2}, seen=seen)
    drop_draft(library, seen)
    assert draft(library, "bowl") == theirs


def test_undo_goes_back_step_by_step_and_brings_back_what_was_thrown_away(library):
    seen = None
    for step in range(4):
        seen = save_draft(library, "bowl", content={"step": step}, seen=seen)
    assert [undo_draft(library, "bowl").content["step"] for _ in range(2)] == [2, 1]
    seen = save_draft(library, "bowl", content={"step": 9}, seen=draft(library, "bowl"))
    assert [undo_draft(library, "bowl").content["step"] for _ in range(2)] == [1, 0]
    with pytest.raises(NotInLibrary, match="no earlier state of 'bowl'"):
        undo_draft(library, "bowl")
    drop_draft(library, draft(library, "bowl"))
    assert draft(library, "bowl") is None
    assert undo_draft(library, "bowl").content == draft(library, "bowl").content == {"step": 0}
    with pytest.raises(NotInLibrary, match="no work in hand"):
        undo_draft(library, "never begun")


def test_new_work_takes_the_place_of_what_was_thrown_away_and_can_be_undone_to_it(library):
    drop_draft(library, save_draft(library, "match", content={"shade": 1}))
    save_draft(library, "match", content={"shade": 2})
    assert undo_draft(library, "match").content == {"shade": 1}


def test_the_past_of_work_in_hand_does_not_grow_without_end(library):
    seen = None
    for step in range(STEPS_BACK + 20):
        seen = save_draft(library, "bowl", content={"step": step}, seen=seen)
    assert len(library.history(seen)) == STEPS_BACK + 1


def test_a_batch_takes_its_pieces_their_shades_and_weights_along_and_brings_them_back(library):
    batch = library.save(BatchRecord(uid="b"))
    pot = library.save(Swatch(uid="pot", name="Pot"))
    piece = library.save(Piece(name="first", batch_uid="b", swatch_uid="pot"))
    library.save(ShadeRecord(uid="both", piece_uid=piece.uid, swatch_uid="pot", lab=(50, 0, 0)))
    library.save(ShadeRecord(uid="own", piece_uid=piece.uid, lab=(50, 0, 0)))
    library.save(DryingWeight(uid="weight", batch_uid="b", piece_uid=piece.uid, mass_g=400))
    library.delete(batch)
    assert {each.record.uid for each in library.bin()} == {"b", piece.uid, "both", "own", "weight"}
    assert [s.uid for s in library.list(Swatch)] == ["pot"]
    library.delete(pot)
    library.restore(pot)
    library.restore(batch)
    assert library.bin() == []
    library.delete(pot_free(library, piece))
    assert {each.record.uid for each in library.bin()} == {"pot", "both"}
    library.delete(library.get(BatchRecord, "b"))
    library.restore(pot)  # its shade belongs to a piece that is still in the bin, and stays there with it
    assert {each.record.uid for each in library.bin()} == {"b", piece.uid, "both", "own", "weight"}
    assert library.check() == []


def pot_free(library, piece):
    """The swatch, once its piece no longer points at it."""
    library.save(replace(library.get(Piece, piece.uid), swatch_uid=None))
    return library.get(Swatch, "pot")
