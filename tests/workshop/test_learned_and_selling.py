"""Learning and its undo; cost, and a customer's card."""

from __future__ import annotations

import io

import pytest
from PIL import Image

from colormatch import Shade
from colormatch.bench.batch import Tone
from colormatch.errors import InputError
from colormatch.library import BatchRecord, LearnedPalette, ShadeRecord, Swatch, TileRecord
from colormatch.loads import Mix
from colormatch.studio import MEASURED, newest_learned, studio_palette
from colormatch.workshop.learned import learn, undo_learning
from colormatch.workshop.plans import Casting, keep_plan, plan
from colormatch.workshop.selling import card_pdf, card_png, customer_card


def measured_tile(library, loads, lab):
    tile = library.save(TileRecord(cement_uid="white-quick", loads=loads))
    shade = Shade(lab, sd=0.7)
    library.save(ShadeRecord.of(shade, tile_uid=tile.uid, state="dry", provenance={"kind": MEASURED}))


def test_learning_says_what_became_surer_and_is_taken_back_in_one_step(studio):
    with pytest.raises(InputError, match="Nothing was learned"):
        undo_learning(studio)
    for load, lab in ((0.005, (78, 12, 10)), (0.02, (62, 22, 17)), (0.05, (50, 27, 21))):
        measured_tile(studio, {"brick-red": load}, lab)
    assert len(studio.list(TileRecord)) == 3
    before = studio_palette(studio)
    learned = learn(studio)
    assert learned.palette.tiles_learned == 3
    assert "now to" in learned.words
    assert [each.number for each in studio.list(LearnedPalette)] == [1]
    measured_tile(studio, {"ochre": 0.02}, (75, 8, 35))
    learn(studio)
    assert "the learning from 4 tiles" in undo_learning(studio)
    assert studio_palette(studio).tiles_learned == 3
    assert studio.list(LearnedPalette)[0].number == 1
    assert "back to the start" in undo_learning(studio)
    assert studio_palette(studio).tiles_learned == 0  # and it is so, though the tiles are there
    with pytest.raises(InputError, match="Nothing was learned"):
        undo_learning(studio)
    learn(studio)
    assert newest_learned(studio).number == 1
    assert before.tiles_learned == 3  # measured tiles count even before a version is kept


@pytest.mark.slow
def test_a_customers_card_says_what_to_expect_in_words(studio):
    knowledge = studio_palette(studio)
    mix = Mix.of("white-quick", {"brick-red": 0.018, "ochre": 0.008})
    batch = keep_plan(studio, knowledge, plan(studio, knowledge, Casting("Rust <b>tray", (Tone("Rust", mix),))))
    assert studio.get(BatchRecord, batch.uid).code
    swatch = studio.list(Swatch)[0]
    card = customer_card(studio, knowledge, swatch)
    assert set(card.shades) == {"dry", "wet", "sealed"}
    assert card.measured == ()
    kept = ShadeRecord.of(Shade((41, 21, 24), sd=0.7), swatch_uid=swatch.uid, state="sealed:beeswax",
                          provenance={"kind": MEASURED})  # fmt: skip
    studio.save(kept)
    waxed = customer_card(studio, knowledge, swatch)
    assert (list(waxed.shades), waxed.measured) == (["dry", "wet", "sealed:beeswax"], ("sealed:beeswax",))
    assert "Sealed with beeswax: " in waxed.lines[0]
    assert Image.open(io.BytesIO(card_png(waxed))).width == 900
    assert any("drawn preview, not a photograph" in line for line in card.lines)
    assert any("daylight" in line for line in card.lines)
    picture = Image.open(io.BytesIO(card_png(card)))
    assert picture.width == 900
    assert card_png(card) == card_png(card)
    pdf = card_pdf(card)
    assert pdf.startswith(b"%PDF")
    assert pdf == card_pdf(card)


def test_a_swatch_of_which_nothing_is_known_has_no_card(studio):
    swatch = studio.save(Swatch(name="Found on a beach"))
    with pytest.raises(InputError, match="not known yet"):
        customer_card(studio, studio_palette(studio), swatch)
