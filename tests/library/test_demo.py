"""The demo studio beside the user's own library, never mixed."""

from datetime import timedelta

import pytest
from examples import fill

from colormatch.errors import LibraryError
from colormatch.library import (
    BatchRecord,
    Draft,
    DryingWeight,
    Photograph,
    Piece,
    Studio,
    Swatch,
    demo,
    demo_folder,
    export_library,
    open_demo,
    open_library,
    store,
)
from colormatch.library.fields import Day, Moment, specs


@pytest.fixture
def small_demo(tmp_path, monkeypatch):
    """A stand-in for the demo studio, and a data folder of its own."""
    with open_library(tmp_path / "maker") as library:
        fill(library)
        export_library(library, tmp_path / "demo")
    monkeypatch.setattr(demo, "_PLACES", (tmp_path / "nowhere", tmp_path / "demo"))
    monkeypatch.setattr(store, "data_folder", lambda: tmp_path / "data" / "library")
    monkeypatch.setattr(demo, "data_folder", lambda: tmp_path / "data" / "library")
    return tmp_path


def test_the_first_start_makes_the_users_own_library_in_the_data_folder(small_demo):
    with open_library() as own:
        assert own.folder == small_demo / "data" / "library"
        assert own.list(Swatch) == []


def test_the_demo_is_a_library_of_its_own(small_demo):
    with open_library() as own, open_demo() as demo_studio:
        assert demo_studio.folder == small_demo / "data" / "demo-studio"
        assert demo_studio.get(Studio, "studio").invented
        demo_studio.save(Swatch(uid="tried", name="tried out"))
        assert own.list(Swatch) == []
    with open_demo() as again:
        assert again.get(Swatch, "tried")  # what was tried stays


def test_the_users_own_library_is_never_filled_with_the_demo(small_demo):
    with open_library() as own:
        own.save(Studio(name="Mine"))
    with pytest.raises(LibraryError, match="holds the library of 'Mine', not the demo"):
        open_demo(small_demo / "data" / "library")
    with open_library(small_demo / "unnamed") as unnamed:
        kept = unnamed.save(Swatch(name="mine"))
    with pytest.raises(LibraryError, match="not the demo"):
        open_demo(small_demo / "unnamed")
    with open_library(small_demo / "unnamed") as unnamed:
        assert unnamed.list(Swatch) == [kept]


def test_a_missing_demo_is_said_in_words(small_demo, monkeypatch):
    monkeypatch.setattr(demo, "_PLACES", ())
    with pytest.raises(LibraryError, match="was not installed"):
        demo_folder()


def test_the_shipped_demo_is_whole_and_says_it_is_invented(tmp_path):
    """The repository's `swatches`: imports without a warning, is exported again byte for byte."""
    shipped = demo_folder()
    with open_demo(tmp_path / "demo", today=demo.TODAY) as library:
        assert library.get(Studio, "studio").invented
        assert library.check() == []
        again = export_library(library, tmp_path / "again")
    ours = {p.relative_to(again).as_posix() for p in again.rglob("*") if p.is_file()}
    assert ours == {p.relative_to(shipped).as_posix() for p in shipped.rglob("*") if p.is_file()}
    for name in ours:
        assert (again / name).read_bytes() == (shipped / name).read_bytes(), name


def test_the_days_of_the_demo_lead_up_to_the_day_it_is_first_opened(tmp_path):
    later = demo.TODAY + timedelta(days=400)
    with open_demo(tmp_path / "then", today=demo.TODAY) as then, open_demo(tmp_path / "now", today=later) as now:
        for kind in (Piece, BatchRecord, DryingWeight, Photograph, Draft):
            for old, new in zip(then.list(kind), now.list(kind), strict=True):
                for name, spec in specs(kind).items():
                    value, moved = getattr(old, name), getattr(new, name)
                    if isinstance(spec, (Day, Moment)) and value is not None:
                        assert moved - value == timedelta(days=400)
                    else:
                        assert moved == value
                assert len(now.history(new)) == 1
    with open_demo(tmp_path / "now", today=later + timedelta(days=5)) as again:  # moved once, not again
        assert again.list(Draft)[0].changed_at.date() == (later - timedelta(days=1))
