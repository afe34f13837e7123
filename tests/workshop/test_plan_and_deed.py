"""Plan and deed are never mixed up, whatever is weighed; two devices on one bowl lose nothing."""

from __future__ import annotations

import math
import multiprocessing

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from colormatch import Shade
from colormatch.bench.batch import Tone
from colormatch.library import BatchRecord, ConflictError, RecipeRecord, Weighing, open_library
from colormatch.loads import Mix
from colormatch.studio import studio_palette, studio_tiles
from colormatch.weighed import mix_of
from colormatch.workshop.casting import cast
from colormatch.workshop.comparing import against_plan
from colormatch.workshop.pieces import keep_shade
from colormatch.workshop.plans import Casting, keep_plan, plan, plan_of
from colormatch.workshop.weighing import add_water, begin_bowl, put_sure, settle, slip_of, zeroed

FACTORS = st.lists(st.sampled_from([1.0, 1.0, 0.93, 1.04, 1.4, 2.1]), min_size=10, max_size=10)
LOADS = st.dictionaries(st.sampled_from(["brick-red", "ochre", "soot"]), st.floats(0.002, 0.012), min_size=1)


@pytest.mark.slow
@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(LOADS, FACTORS, st.booleans(), st.booleans())
def test_plan_and_deed_are_never_mixed_up(studio, loads, factors, correct, blend):
    knowledge, mix = studio_palette(studio), Mix.of("white-quick", loads)
    blends = [min(loads, key=lambda name: loads[name])] if blend else []
    planned = plan(studio, knowledge, Casting("Any", (Tone("Any", mix),)), cement_g=400, preblend=blends)
    batch = keep_plan(studio, knowledge, planned)
    work, shown = zeroed(studio, begin_bowl(studio, batch)), []
    for number in range(60):
        if work.state.done:
            break
        if work.state.over:
            work = settle(studio, work, slip_of(knowledge, work), correct=correct)
            continue
        times = factors[number] if number < len(factors) else 1.0
        shown.append(round(work.step.grams * times, 2))
        work = put_sure(studio, work, shown[-1])
    (piece,) = cast(studio, batch)

    rows = studio.list(Weighing, batch_uid=batch.uid)
    sheet = planned.batch.bowls[0]
    assert plan_of(studio.get(BatchRecord, batch.uid)).batch == planned.batch  # the plan is what it was
    assert {row.material: row.planned_g for row in rows} == {
        "white-quick": sheet.cement_g, **sheet.pigments_g, "water": sheet.water_most_g
    }  # fmt: skip
    assert math.fsum(row.weighed_g for row in rows) == pytest.approx(math.fsum(shown))  # what the scale showed
    grams = {row.material: row.weighed_g for row in rows}
    found = mix_of(studio, piece)
    assert dict(studio.get(RecipeRecord, batch.recipe_uid).loads) == dict(found.planned.loads) == dict(mix.loads)
    if found.mix is not None:  # else more than 10 % went in
        assert found.source == "weighed"
        for name in loads:
            assert found.mix.loads[name] == pytest.approx(grams[name] / grams["white-quick"])
        before = len(studio_tiles(studio))
        keep_shade(studio, piece, Shade((50, 10, 10), sd=0.7), state="demould")
        tiles = studio_tiles(studio)
        assert len(tiles) == before + 1
        own = next(tile for tile in tiles if tile.piece.startswith(piece.uid))
        assert own.loads == found.mix.loads
    lines = against_plan(studio, knowledge, batch)
    assert [(line.planned_g, line.weighed_g) for line in lines] == [(row.planned_g, row.weighed_g) for row in
                                                                   sorted(rows, key=lambda row: row.step)]  # fmt: skip


def pour_in(folder, batch_uid, times):
    """Add a gram of water so many times, reading again whenever the other device was first."""
    with open_library(folder) as library:
        batch = library.get(BatchRecord, batch_uid)
        for _ in range(times):
            while True:
                try:
                    add_water(library, begin_bowl(library, batch), 1)
                    break
                except ConflictError:
                    continue


@pytest.mark.slow
def test_two_devices_on_one_bowl_lose_nothing(studio, tmp_path):
    mix = Mix.of("white-quick", {"ochre": 0.01})
    planned = plan(studio, studio_palette(studio), Casting("Ochre", (Tone("Ochre", mix),)), cement_g=400)
    batch = keep_plan(studio, studio_palette(studio), planned)
    begin_bowl(studio, batch)
    processes = multiprocessing.get_context("forkserver")
    both = [processes.Process(target=pour_in, args=(tmp_path / "studio", batch.uid, 12)) for _ in range(2)]
    for each in both:
        each.start()
    for each in both:
        each.join()
        assert each.exitcode == 0
    assert begin_bowl(studio, batch).state.inside == {"water": 24.0}
