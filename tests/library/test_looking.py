"""One look: a thread that draws reads the same thing once, anew after each of its own writes; others for themselves."""

from threading import Thread

import pytest

from colormatch.library import Swatch


@pytest.fixture
def reads(sqlite_library, monkeypatch):
    """How often the database was read."""
    counted = []
    before = sqlite_library.database.reading
    monkeypatch.setattr(sqlite_library.database, "reading", lambda: (counted.append(1), before())[1])
    return counted


def test_within_a_look_the_same_is_read_once(sqlite_library, reads):
    kept = sqlite_library.save(Swatch(name="Rust"))
    with sqlite_library.one_look():
        for _ in range(3):
            assert [each.name for each in sqlite_library.list(Swatch)] == ["Rust"]
            assert sqlite_library.find_one(Swatch, kept.uid) == kept
            assert sqlite_library.count(Swatch) == 1
    assert len(reads) == 2  # what was listed is found by its uid without another
    sqlite_library.list(Swatch)
    assert len(reads) == 3


def test_what_the_thread_itself_writes_is_seen_at_once(sqlite_library):
    with sqlite_library.one_look():
        assert sqlite_library.list(Swatch) == []
        kept = sqlite_library.save(Swatch(name="Rust"))
        assert sqlite_library.list(Swatch) == [kept]
        sqlite_library.delete(kept)
        assert sqlite_library.find_one(Swatch, kept.uid) is None
        assert sqlite_library.count(Swatch) == 0


def test_a_list_that_was_given_is_the_readers_own(sqlite_library):
    sqlite_library.save(Swatch(name="Rust"))
    with sqlite_library.one_look():
        sqlite_library.list(Swatch).clear()
        assert len(sqlite_library.list(Swatch)) == 1


def test_another_thread_reads_for_itself_and_is_seen_by_the_next_look(sqlite_library):
    with sqlite_library.one_look():
        assert sqlite_library.count(Swatch) == 0
        other = Thread(target=lambda: sqlite_library.save(Swatch(name="Rust")))
        other.start()
        other.join()
        assert sqlite_library.count(Swatch) == 0  # drawn from one state
    with sqlite_library.one_look():
        assert sqlite_library.count(Swatch) == 1


def test_what_is_worked_out_is_kept_until_something_is_written(sqlite_library):
    worked = []
    with sqlite_library.one_look():
        for _ in range(3):
            assert sqlite_library.once("names", lambda: worked.append(1) or len(worked)) == 1
        sqlite_library.save(Swatch(name="Rust"))
        assert sqlite_library.once("names", lambda: worked.append(1) or len(worked)) == 2
    sqlite_library.once("names", lambda: worked.append(1))
    sqlite_library.once("names", lambda: worked.append(1))
    assert len(worked) == 4  # outside a look nothing is kept
