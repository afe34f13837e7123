"""The list of tiles in hand: advised from her shelf, weighed, kept from one photograph, found on any device."""

from __future__ import annotations

import csv

import pytest

from colormatch.errors import InputError, LoadError
from colormatch.library import ConflictError, ShadeRecord, TileRecord, undo_draft
from colormatch.shade import Shade
from colormatch.studio import studio_palette, studio_tiles
from colormatch.workshop.shelf import set_defaults, shelf
from colormatch.workshop.tile_list import (
    added,
    advised,
    as_table,
    keep_measured,
    ladder,
    left_out,
    reweighed,
    taken_in,
    tile_list,
    water_words,
)


def test_only_her_jars_are_advised_in_grams_of_her_scale(studio):
    set_defaults(studio, scale_step_g=0.5)
    listed = advised(studio, studio_palette(studio), count=4)
    assert len(listed.tiles) == 4
    assert {name for tile in listed.tiles for name in tile.grams} <= shelf(studio).names
    on_scale = [float(line.split()[0]) for place in range(4) for line in listed.cast.lines(place)[1:]]
    assert on_scale
    assert all(round(2 * grams) == 2 * grams >= 5 for grams in on_scale)
    assert all(tile.why for tile in listed.tiles)
    assert tile_list(studio) == listed


def test_a_shelf_without_jars_says_what_to_do(library):
    with pytest.raises(InputError, match="no cement on your shelf"):
        advised(library, studio_palette(library))


def test_what_was_weighed_is_what_is_learned_from(studio):
    knowledge = studio_palette(studio)
    jar = shelf(studio).pigments[0].uid
    listed = ladder(studio, knowledge, jar)
    place = next(i for i, tile in enumerate(listed.tiles) if tile.grams)
    name, grams = next(iter(listed.tiles[place].grams.items()))
    listed = reweighed(studio, listed, place, {name: grams + 0.3})
    shades = [Shade((50.0 + i, 10, 10), sd=0.7) for i in range(len(listed.tiles))]
    assert keep_measured(studio, listed, shades) is None
    assert tile_list(studio) is None
    tiles = studio_tiles(studio)
    assert len(tiles) == len(shades)
    assert any(tile.loads.get(name) == pytest.approx((grams + 0.3) / listed.cement_g) for tile in tiles)


def test_the_water_of_a_tile_is_said_by_her_own_share(studio):
    """4 : 1, and 50 of 65 g first: common practice, no source."""
    jar = shelf(studio).pigments[0].uid
    listed = ladder(studio, studio_palette(studio), jar)
    assert listed.cement_g == 100
    assert "Water: 19 g into each, then by eye up to 25 g" in water_words(studio, listed)
    set_defaults(studio, water_per_cement=0.4)
    assert "Water: 31 g into each, then by eye up to 40 g" in water_words(studio, listed)


def test_a_list_measured_wet_waits_to_be_measured_dry_as_the_same_tiles(studio):
    jar = shelf(studio).pigments[0].uid
    listed = ladder(studio, studio_palette(studio), jar)
    shades = [Shade((50, 10, 10), sd=1.0) for _ in listed.tiles]
    wet = keep_measured(studio, listed, shades, state="wet")
    assert wet == tile_list(studio)
    keep_measured(studio, wet, shades)
    assert studio.count(TileRecord) == len(shades)
    assert studio.count(ShadeRecord) == 2 * len(shades)


def test_a_tile_left_out_stays_on_the_list_and_counts_must_agree(studio):
    listed = advised(studio, studio_palette(studio), count=3)
    with pytest.raises(InputError, match="as many"):
        keep_measured(studio, listed, [None])
    left = keep_measured(studio, listed, [Shade((50, 0, 0), sd=1.0), None, Shade((40, 0, 0), sd=1.0)])
    assert studio.count(TileRecord) == 2
    assert left.tiles == tile_list(studio).tiles == (listed.tiles[1],)
    assert keep_measured(studio, left, [Shade((45, 0, 0), sd=1.0)]) is None
    assert tile_list(studio) is None
    assert studio.count(TileRecord) == 3


def test_how_far_off_recipes_will_be_is_of_the_tiles_on_the_list(studio):
    listed = advised(studio, studio_palette(studio), count=2)
    assert listed.off[1] < listed.off[0]
    assert reweighed(studio, listed, 0, listed.tiles[0].grams).off == listed.off
    fewer = left_out(studio, tile_list(studio), 0)
    assert fewer.off == (0.0, 0.0)  # not known: the advice was for both
    assert tile_list(studio).off == (0.0, 0.0)


def test_a_list_of_her_own_is_checked_and_another_device_is_never_overwritten(studio):
    jar = shelf(studio).pigments[0].uid
    base = shelf(studio).cements[0].uid
    with pytest.raises(LoadError, match=r"it must be from 0 to 0.1"):
        added(studio, None, base, {jar: 11.0})
    first = added(studio, None, base, {jar: 0.2})
    assert [blend.pigment for blend in first.cast.blends(0)] == [jar]
    second = added(studio, first, base, {jar: 2.0})
    with pytest.raises(ConflictError, match="changed by someone else"):
        left_out(studio, first, 0)
    assert [dict(tile.grams) for tile in left_out(studio, second, 0).tiles] == [{jar: 2.0}]
    undo_draft(studio, "tiles")
    assert len(tile_list(studio).tiles) == 2


def test_a_list_measured_on_two_devices_is_kept_once(studio):
    knowledge = studio_palette(studio)
    listed = advised(studio, knowledge, count=2)
    shades = [Shade((60, 10, 10), sd=0.5)] * 2
    keep_measured(studio, listed, shades)
    with pytest.raises(ConflictError, match="another device"):
        keep_measured(studio, listed, shades)
    assert studio.count(ShadeRecord) == 2


def test_a_table_comes_back_measured_in_part_and_is_kept_once(studio):
    knowledge = studio_palette(studio)
    listed = ladder(studio, knowledge, shelf(studio).pigments[0].uid)
    heading, *rows = csv.reader(as_table(listed.cast, knowledge).splitlines())
    at = heading.index("L")
    for row in rows[:2]:
        row[at : at + 3] = ["60", "12", "15"]
    filled = "\n".join(";".join(row) for row in [heading, *rows]).encode()
    taken = taken_in(studio, knowledge, filled)
    assert (taken.measured, len(taken.left.tiles)) == (2, len(rows) - 2)
    assert tile_list(studio) == taken.left
    assert len(studio_tiles(studio)) == studio.count(TileRecord) == 2
    with pytest.raises(InputError, match="kept dry before"):
        taken_in(studio, knowledge, filled)
    with pytest.raises(InputError, match="called 'Beetroot'"):
        taken_in(studio, knowledge, filled.replace(knowledge.label(listed.base).encode(), b"Beetroot"))


def test_reading_the_scale_reaches_the_learner(studio):
    jar = shelf(studio).pigments[0].uid
    listed = added(studio, None, shelf(studio).cements[0].uid, {jar: 2.0})
    keep_measured(studio, listed, [Shade((50, 10, 10), sd=0.7)])
    (tile,) = studio_tiles(studio)
    assert dict(tile.load_sd) == listed.cast.load_sd(0)


def test_nothing_worth_casting_is_said(studio, monkeypatch):
    monkeypatch.setattr("colormatch.advice._WORTH", 100.0)
    listed = advised(studio, studio_palette(studio))
    assert listed.tiles == ()
    assert listed.off[0] == listed.off[1] > 0
