"""Several work places at once: no update is lost.

Without BEGIN IMMEDIATE a read-then-write by 8 threads kept 23 of 160 updates, silently; the last test shows that these
tests would notice.
"""

import sqlite3
import threading
from contextlib import closing

import pytest
from writers import count_up, edit_until_kept

from colormatch.library import Studio, Swatch, open_library


@pytest.fixture
def counter(database):
    where = database()
    with open_library(where) as library:
        library.save(Studio(name="counter", settings={"n": 0}))
    return where


def counted(where):
    with open_library(where) as library:
        studio = library.get(Studio, "studio")
        assert studio.version == studio.settings["n"] + 1
        assert [v.record.settings["n"] for v in library.history(studio)] == list(range(studio.version))
        assert library.check() == []
        return studio.settings["n"]


@pytest.mark.slow
def test_eight_processes_times_200_lose_no_update(counter, processes):
    processes(count_up, [(counter, 200)] * 8)
    assert counted(counter) == 8 * 200


def test_whoever_is_told_of_a_conflict_and_reads_again_loses_nothing(counter, processes):
    processes(edit_until_kept, [(counter, 15)] * 4)
    assert counted(counter) == 4 * 15


def test_reading_does_not_wait_for_a_writer(library):
    library.save(Swatch(uid="first", name="first"))
    with library.database.writing():
        assert [s.uid for s in library.list(Swatch)] == ["first"]


def test_a_plain_deferred_transaction_would_have_lost_updates(tmp_path):
    """The trap itself, in bare sqlite3: read, then write, each its own statement, without holding the lock."""
    file = tmp_path / "naive.sqlite"
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("CREATE TABLE counter (n INTEGER)")
        connection.execute("INSERT INTO counter VALUES (0)")
        connection.commit()
    barrier = threading.Barrier(8)

    def naive():
        with closing(sqlite3.connect(file, timeout=30)) as connection:
            barrier.wait()
            for _ in range(20):
                n = connection.execute("SELECT n FROM counter").fetchone()[0]
                connection.execute("UPDATE counter SET n = ?", (n + 1,))
                connection.commit()

    threads = [threading.Thread(target=naive) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with closing(sqlite3.connect(file)) as connection:
        assert connection.execute("SELECT n FROM counter").fetchone()[0] < 160
