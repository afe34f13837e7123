"""Killed without warning, two hundred times, in the middle of writing: nothing that was acknowledged is lost."""

import contextlib
import os
import random
import time

import pytest
from writers import PROCESSES, write_for_ever

from colormatch.library import Photograph, ShadeRecord, Swatch, open_library


def lines(log):
    return log.read_bytes().count(b"\n") if log.exists() else 0


def run_and_kill(where, log, seed, notes, after_s):
    """Let a process write so many notes more (0: perhaps not even open the library), and kill it so long after."""
    process = PROCESSES.Process(target=write_for_ever, args=(where, log, seed))
    noted = lines(log)
    process.start()
    while process.is_alive() and lines(log) < noted + notes:
        time.sleep(0.0005)
    time.sleep(after_s)
    process.kill()
    process.join()
    assert process.exitcode == -9, "it ended by itself: that is a failure of its own"
    process.close()


def acknowledged(log):
    """uid -> the name it must have at least (None: it must be gone; "?": its deletion was begun, so either)."""
    known = {}
    for line in log.read_text().splitlines() if log.exists() else []:
        with contextlib.suppress(ValueError):  # `open`, `emptied`
            uid, what = line.split()
            known[uid] = {"gone": None, "going": "?"}.get(what, what)
    return known


def assert_whole(where, log):
    """The library opens, is sound, holds what was acknowledged, and nothing that is half written."""
    with open_library(where) as library:
        assert library.check() == []
        swatches = {swatch.uid: swatch for swatch in library.list(Swatch)}
        photographs = {photograph.uid for photograph in library.list(Photograph)}
        states = {}
        for shade in library.list(ShadeRecord):
            states.setdefault(shade.swatch_uid, set()).add(shade.state)
        for uid, expected in acknowledged(log).items():
            if expected is None:
                assert uid not in swatches
            elif expected != "?":
                # One more edit may have been kept just before its note could be written.
                assert int(swatches[uid].name) - int(expected) in (0, 1)
        assert states == {uid: {"dry", "wet"} for uid in swatches}
        for swatch in swatches.values():
            assert swatch.tags == (swatch.uid, "x")
            assert set(swatch.photographs) <= photographs
            earlier = [version.record.name for version in library.history(swatch)]
            assert earlier == [str(number) for number in range(int(swatch.name) + 1)]
        return len(swatches)


def kill_repeatedly(where, log, times):
    rng = random.Random(20261125)
    for number in range(times):
        run_and_kill(where, log, number, notes=rng.randrange(8), after_s=rng.uniform(0, 0.02))
        if number % 5 == 0 or number == times - 1:
            assert_whole(where, log)
    return assert_whole(where, log)


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="Windows has no SIGKILL")
@pytest.mark.parametrize("kills", [50, pytest.param(200, marks=pytest.mark.measure)])
def test_killed_many_times(kills, tmp_path, figure):
    kept = kill_repeatedly(tmp_path / "library", tmp_path / "log", kills)
    assert kept > kills / 2
    emptied = (tmp_path / "log").read_text().count("emptied")
    if kills == 200:
        beside = "all that were acknowledged, each with its history and its two shades"
        what = "200 kills while the library is written: swatches whole after them"
        figure("trust.kills", what, kept, target=">= 100", beside=beside)
    assert emptied > kills / 20, "the bin was hardly ever emptied: the test did not test it"
