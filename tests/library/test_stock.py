"""Stock and cost, against sums done by hand."""

from datetime import date

import pytest

from colormatch.library import (
    BatchRecord,
    Cement,
    CementLot,
    PigmentLot,
    PigmentRecord,
    Studio,
    Weighing,
    drawn,
    piece_cost,
    stock_warnings,
)


@pytest.fixture
def studio(library):
    library.save(Studio(name="s", currency="SEK"))
    library.save(Cement(uid="white", name="White", warn_below_g=3000))
    library.save(CementLot(uid="bag", cement_uid="white", lot="A 17", stock_g=25_000, price_per_kg=0.8))
    library.save(PigmentRecord(uid="red", name="Red"))
    library.save(PigmentLot(uid="jar", pigment_uid="red", stock_g=100, price_per_kg=20))
    library.save(PigmentLot(uid="gift", pigment_uid="red"))
    return library


def weigh(library, batch, red_g=30.0, cement_g=1500.0, lot="jar"):
    library.save(BatchRecord(uid=batch, name=batch, pieces=3, made_on=date(2026, 1, 1)))
    library.save(Weighing(batch_uid=batch, pigment_lot_uid=lot, material="red", weighed_g=red_g, planned_g=1))
    library.save(Weighing(batch_uid=batch, cement_lot_uid="bag", weighed_g=cement_g))
    library.save(Weighing(batch_uid=batch, material="water", weighed_g=600))


def draw(library, batch):
    """Take what was weighed for a batch from the stock."""
    library.save_all(drawn(library, library.list(Weighing, batch_uid=batch)))


def test_a_batch_draws_its_lots_down_and_what_is_put_back_is_there_again(studio):
    weigh(studio, "monday")
    studio.save(Weighing(batch_uid="monday", pigment_lot_uid="jar", weighed_g=0.5, notes="a slip mended"))
    rows = studio.list(Weighing, batch_uid="monday")
    after = {lot.uid: lot.stock_g for lot in drawn(studio, rows)}
    assert after == {"jar": 100 - 30.5, "bag": 25_000 - 1500}
    draw(studio, "monday")
    assert [v.record.stock_g for v in studio.history(PigmentLot(uid="jar", pigment_uid="red"))] == [100, 69.5]
    assert {lot.uid: lot.stock_g for lot in drawn(studio, [], back=rows)} == {"jar": 100, "bag": 25_000}


def test_an_unknown_stock_stays_unknown(studio):
    weigh(studio, "monday", lot="gift")
    draw(studio, "monday")
    assert studio.get(PigmentLot, "gift").stock_g is None


def test_warnings_come_before_it_runs_out(studio):
    assert stock_warnings(studio) == []
    weigh(studio, "one", red_g=30)
    draw(studio, "one")
    assert stock_warnings(studio) == []  # 70 g left, 2.3 batches
    weigh(studio, "two", red_g=20)
    draw(studio, "two")
    assert stock_warnings(studio) == []  # 50 g left and 25 g a batch: just two more
    weigh(studio, "three", red_g=25)
    draw(studio, "three")
    (warning,) = stock_warnings(studio)
    assert (warning.kind, warning.uid) == ("pigment", "red")
    assert "25 g left, enough for 1.0 more batches (the last ones took 25 g each)" in warning.sentence


def test_the_makers_own_limit_and_a_wrong_count(studio):
    weigh(studio, "large", red_g=130, cement_g=22_500)
    draw(studio, "large")
    sentences = {warning.uid: warning.sentence for warning in stock_warnings(studio)}
    assert "2500 g left, below your limit of 3000 g" in sentences["white"]
    assert "30 g more were weighed than were in stock" in sentences["red"]


def test_a_bag_open_for_long_is_named_with_its_danger(studio):
    bag = studio.get(CementLot, "bag")
    from dataclasses import replace

    studio.save(replace(bag, opened_on=date(2026, 1, 1)))
    assert stock_warnings(studio, today=date(2026, 3, 2)) == []
    (warning,) = stock_warnings(studio, today=date(2026, 3, 3))
    assert "White (A 17) has been open for 61 days" in warning.sentence
    assert "chromium VI" in warning.sentence


def test_cost_per_piece(studio):
    weigh(studio, "monday")
    cost = piece_cost(studio, "monday")
    assert cost.pigments == pytest.approx(0.030 * 20)
    assert cost.cement == pytest.approx(1.5 * 0.8)
    assert cost.per_piece == pytest.approx((0.6 + 1.2) / 3)
    assert (cost.pieces, cost.currency, cost.without_price) == (3, "SEK", ())
    weigh(studio, "gift", lot="gift")
    assert piece_cost(studio, "gift").without_price == ("red",)
