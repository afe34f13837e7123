"""The life of a swatch: how often it was cast is one number, whoever asks."""

from __future__ import annotations

from colormatch.library import Swatch, import_library, open_library
from colormatch.library.demo import demo_folder
from colormatch.workshop.lives import cast_alone, cast_words, casts_of, times_cast


def test_a_swatch_was_cast_as_often_as_its_casts_and_lone_pieces_tell(tmp_path):
    with open_library(tmp_path / "demo") as demo:
        import_library(demo, demo_folder())
        times = times_cast(demo)
        told = {each.uid: len(casts_of(demo, each)) + len(cast_alone(demo, each)) for each in demo.list(Swatch)}
    assert times == told
    assert {0, 1} < set(times.values())  # some never, some once, some more often


def test_times_in_words():
    assert [cast_words(times) for times in (0, 1, 3)] == ["not cast yet", "cast once", "cast 3 times"]
