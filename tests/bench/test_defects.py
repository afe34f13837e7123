"""The defect log and the cautions."""

from __future__ import annotations

import pytest

from colormatch.bench.cautions import DEFERENCE, STEPS, USES, caution_at, caution_for
from colormatch.bench.defects import DEFECTS, CastRecord, count_defects, defect
from colormatch.errors import InputError, UnknownNameError

LOG = [
    CastRecord(10, {"cracks": 4}, {"recipe": "dune", "weather": "hot"}),
    CastRecord(10, {"cracks": 3, "bubbles": 1}, {"recipe": "dune", "weather": "hot"}),
    CastRecord(20, {"cracks": 1}, {"recipe": "slate", "weather": "mild"}),
    CastRecord(20, {}, {"recipe": "slate"}),
]


def test_the_words_are_fixed():
    words = ["cracks", "water spots", "bubbles", "rough base", "chalky bloom", "seal blisters", "nail marks"]
    assert list(DEFECTS) == words
    for word in words:
        assert defect(word).causes
        assert defect(word).remedies
    with pytest.raises(UnknownNameError, match="water spots"):
        defect("pinholes of doom")


def test_counts_against_what_was_recorded():
    hot, mild, unknown = count_defects(LOG, "cracks", "weather")
    assert (hot.value, hot.with_defect, hot.pieces) == ("hot", 7, 20)
    assert hot.stands_out
    assert not mild.stands_out
    assert unknown.value == "not recorded"
    assert [c.value for c in count_defects(LOG, "cracks", "recipe")] == ["dune", "slate"]


def test_one_piece_proves_nothing():
    log = [CastRecord(1, {"bubbles": 1}, {"weather": "hot"}), CastRecord(30, {"bubbles": 6}, {"weather": "mild"})]
    hot, _ = count_defects(log, "bubbles", "weather")
    assert hot.share == 1.0
    assert hot.low < 0.5


def test_an_empty_log_has_no_counts():
    assert count_defects([], "cracks", "weather") == ()


@pytest.mark.parametrize("record", [CastRecord(2, {"cracks": 3}), CastRecord(-1), CastRecord(2, {"cracks": -1})])
def test_impossible_counts_are_refused(record):
    with pytest.raises(InputError, match=r"correct one of the two numbers|it must have 0 or more"):
        count_defects([record], "cracks", "weather")


def test_a_caution_at_every_step_and_for_every_use():
    told = " ".join(step.caution for step in STEPS).lower()
    for word in ("silica", "caustic", "chromium", "pigment", "edges", "drain"):
        assert word in told
    assert set(USES) == {"candle vessel", "food contact", "planter", "edges"}
    for use in USES:
        assert "data sheets, local codes and licensed practice" in caution_for(use)
    assert caution_at("Water") in told or "caustic" in caution_at("Water")
    assert "Safety data sheets" in DEFERENCE
    for call in (lambda: caution_for("boat"), lambda: caution_at("Fly")):
        with pytest.raises(UnknownNameError, match=r"There is no (step called 'Fly'|use called 'boat')"):
            call()
