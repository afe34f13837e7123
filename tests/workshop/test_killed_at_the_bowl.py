"""A process that is killed at the bowl, a hundred times at any step: at most the reading being typed is lost."""

from __future__ import annotations

import multiprocessing
import random
import time

import pytest

from colormatch.bench.batch import Tone
from colormatch.library import BatchRecord, CementLot, Piece, Weighing, open_library
from colormatch.loads import Mix
from colormatch.studio import studio_palette
from colormatch.workshop.casting import cast
from colormatch.workshop.plans import Casting, castings, keep_plan, plan
from colormatch.workshop.weighing import begin_bowl, bowls_begun, put_sure, zeroed

PROCESSES = multiprocessing.get_context("forkserver")
PROCESSES.set_forkserver_preload(["colormatch.workshop.casting"])


def weigh_on(folder, batch_uid, said):
    """Weigh every bowl from where it stands, saying after each step how much is kept; then cast."""
    with open_library(folder) as library:
        batch = library.get(BatchRecord, batch_uid)
        for number in (1, 2):
            weighing = begin_bowl(library, batch, number)
            while not weighing.state.done:
                step = weighing.step
                weighing = zeroed(library, weighing) if step.kind == "zero" else put_sure(library, weighing, step.grams)
                said.send((number, len(weighing.state.entries)))
        cast(library, batch)
        said.send("cast")


@pytest.mark.slow
@pytest.mark.parametrize("times", [30, pytest.param(100, marks=pytest.mark.measure)])
def test_kills_lose_at_most_the_reading_being_typed(times, studio, tmp_path, figure):
    random.seed(5)
    knowledge = studio_palette(studio)
    mixes = (Mix.of("white-quick", {"brick-red": 0.018, "ochre": 0.008}), Mix.of("white-quick", {"soot": 0.03}))
    two = Casting("Banded cup", (Tone("Rust", mixes[0], 0.6), Tone("Soot", mixes[1], 0.4)))
    batch, batches, kills, kinds = keep_plan(studio, knowledge, plan(studio, knowledge, two)), 1, 0, set()
    bag = studio.list(CementLot)[0].stock_g
    while kills < times:
        here, there = PROCESSES.Pipe()
        child = PROCESSES.Process(target=weigh_on, args=(tmp_path / "studio", batch.uid, there))
        child.start()
        there.close()
        said, wanted = None, random.randrange(0, 4)
        try:
            for _ in range(wanted):
                said = here.recv()
            if said != "cast":
                time.sleep(random.uniform(0, 0.02))
        except EOFError:
            pass
        child.kill()
        child.join()
        kills += 1
        while here.poll():  # what it had still said before it was killed was kept too
            try:
                said = here.recv()
            except EOFError:
                break
        record = studio.get(BatchRecord, batch.uid)
        rows, pieces = studio.list(Weighing, batch_uid=batch.uid), studio.list(Piece, batch_uid=batch.uid)
        kinds.add(record.stage)
        if record.stage == "cast":
            assert (len(rows), len(pieces)) == (7, 1)
            drawn = sum(row.weighed_g for row in rows if row.cement_lot_uid)
            left = studio.list(CementLot)[0].stock_g
            assert left == pytest.approx(bag - drawn)
            assert cast(studio, record) == pieces
            bag, batches = left, batches + 1
            batch = keep_plan(studio, knowledge, plan(studio, knowledge, castings(studio)[0]))
            continue
        assert said != "cast"
        assert rows == []
        assert pieces == []
        if said is not None:
            number, kept = said
            entries = len(bowls_begun(studio, record)[number - 1].state.entries)
            assert kept <= entries <= kept + 1
    assert studio.check() == []
    assert batches > times / 30
    assert kinds >= {"weighing", "cast"}
    if times == 100:
        figure("trust.bowl", "100 kills at the bowl: batches poured meanwhile", batches, target=">= 4",
               beside="no reading lost that was said to be kept")  # fmt: skip
