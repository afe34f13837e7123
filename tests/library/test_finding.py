"""Finding: the nearest are the nearest, and every filter keeps what it says."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from colormatch import Shade, delta_e_2000
from colormatch.errors import ColormatchError, LibraryError
from colormatch.library import (
    Cement,
    Mould,
    PigmentRecord,
    RecipeRecord,
    ShadeRecord,
    Swatch,
    TileRecord,
    find,
    find_near,
    finding,
    open_library,
)


def add_swatches(library, lab, state="dry"):
    """Swatches p0000, p0001, ... with one shade each."""
    pots = [Swatch(uid=f"p{i:05}", name=f"p{i}") for i in range(len(lab))]
    shades = [
        ShadeRecord(swatch_uid=p.uid, state=state, lab=tuple(map(float, x))) for p, x in zip(pots, lab, strict=True)
    ]
    library.save_all([*pots, *shades])


def cement_colours(count, seed=1):
    """Colours like those of coloured cement: L* 20..90, mostly of low chroma."""
    rng = np.random.default_rng(seed)
    return np.column_stack([rng.uniform(20, 90, count), rng.normal(5, 12, count), rng.normal(10, 14, count)])


@pytest.fixture(scope="module")
def coloured(tmp_path_factory):
    with open_library(tmp_path_factory.mktemp("coloured")) as library:
        lab = cement_colours(400)
        add_swatches(library, lab)
        yield library, lab


@pytest.mark.slow
@settings(max_examples=60)
@given(
    lightness=st.floats(0, 100), a=st.floats(-90, 90), b=st.floats(-90, 90), limit=st.sampled_from([1, 5, 20, 400, 900])
)
def test_nearest_in_colour_is_what_a_full_scan_says(coloured, lightness, a, b, limit):
    library, lab = coloured
    found = find_near(library, (lightness, a, b), limit=limit)
    expected = np.sort(delta_e_2000(lab, (lightness, a, b)))[:limit]
    assert [near.delta_e for near in found] == pytest.approx(expected.tolist(), abs=1e-12)
    for near in found:
        assert near.delta_e == pytest.approx(float(delta_e_2000(near.shade.lab, (lightness, a, b))), abs=1e-12)
        assert near.shade.swatch_uid == near.swatch.uid


@settings(max_examples=300)
@given(st.tuples(*[st.tuples(st.floats(-0.5, 110), st.floats(-200, 200), st.floats(-200, 200))] * 2))
def test_no_colour_outside_the_band_of_lightness_is_nearer(pair):
    """The bound that find_near relies on: dE00 is at least |dL*| / 1.9 for every pair of shades there may be."""
    one, two = pair
    assert abs(one[0] - two[0]) <= finding._STEEPEST_S_L * float(delta_e_2000(one, two)) + 1e-9


def test_each_swatch_comes_once_by_its_nearest_shade_in_the_state(library):
    add_swatches(library, [(50, 0, 0), (60, 0, 0)])
    library.save(ShadeRecord(swatch_uid="p00000", lab=(52, 0, 0)))
    library.save(ShadeRecord(swatch_uid="p00000", lab=(30, 0, 0), state="wet"))
    found = find_near(library, (52, 0, 0))
    assert [(n.swatch.uid, n.shade.lab[0]) for n in found] == [("p00000", 52), ("p00001", 60)]
    assert found[0].delta_e == 0
    assert [n.swatch.uid for n in find_near(library, Shade((30, 0, 0)), state="wet")] == ["p00000"]
    assert find_near(library, (50, 0, 0), state="sealed") == []


def test_shades_of_tiles_and_of_the_bin_are_not_found(library):
    add_swatches(library, [(50, 0, 0), (51, 0, 0)])
    tile = library.save(TileRecord(cement_uid=library.save(Cement(name="w")).uid))
    library.save(ShadeRecord(tile_uid=tile.uid, lab=(50, 0, 0)))
    library.delete(library.get(Swatch, "p00000"))
    assert [n.swatch.uid for n in find_near(library, (50, 0, 0))] == ["p00001"]


def test_bad_questions_are_refused_in_words(library):
    with pytest.raises(LibraryError, match="at least 1"):
        find_near(library, (50, 0, 0), limit=0)
    with pytest.raises(ColormatchError, match="L\\* runs"):
        find_near(library, (5000, 0, 0))
    with pytest.raises(ColormatchError, match="not"):
        find_near(library, (50, 0, float("nan")))


@pytest.fixture
def shelf(library):
    white, grey = library.save(Cement(name="White")), library.save(Cement(name="Grey"))
    red, blue = library.save(PigmentRecord(name="Red")), library.save(PigmentRecord(name="Blue"))
    rust = library.save(RecipeRecord(uid="rust", name="Rust", cement_uid=white.uid, loads={red.uid: 0.02, blue.uid: 0}))
    tile = library.save(TileRecord(uid="tile", cement_uid=grey.uid, loads={blue.uid: 0.01}))
    tall = library.save(Mould(name="Tall", fill_weight_g=900))
    day = date(2026, 5, 1)
    library.save_all(
        [
            Swatch(uid="a", name="Rust pot", recipe_uid=rust.uid, mould_uid=tall.uid, made_on=day, tags=["spring"]),
            Swatch(uid="b", name="Blue tile", tile_uid=tile.uid, made_on=day + timedelta(1), tags=["spring", "50%"]),
            Swatch(uid="c", name="ZÜRICH Straße_1", cement_uid=grey.uid, made_on=day + timedelta(2), notes="pot"),
            Swatch(uid="d", name="No date"),
        ]
    )
    return library


QUESTIONS = [
    ({}, "cbad"),
    ({"text": "POT"}, "ca"),
    ({"text": "pot rust"}, "a"),
    ({"text": "zürich STRASSE"}, "c"),
    ({"text": "50%"}, "b"),
    ({"text": "%"}, "b"),
    ({"text": "e_1"}, "c"),
    ({"text": "_"}, "c"),
    ({"text": "' OR 1=1 --"}, ""),
    ({"tag": "spring"}, "ba"),
    ({"tag": "Spring"}, ""),
    ({"pigment": "red"}, "a"),
    ({"pigment": "blue"}, "b"),
    ({"cement": "white"}, "a"),
    ({"cement": "grey"}, "cb"),
    ({"mould": "tall"}, "a"),
    ({"since": date(2026, 5, 2)}, "cb"),
    ({"until": date(2026, 5, 2)}, "ba"),
    ({"since": date(2026, 5, 2), "until": date(2026, 5, 2)}, "b"),
    ({"limit": 2}, "cb"),
    ({"tag": "spring", "pigment": "red", "text": "rust"}, "a"),
]


def test_every_filter_keeps_what_it_says(shelf):
    for wanted, expected in QUESTIONS:
        assert [swatch.uid for swatch in find(shelf, **wanted)] == list(expected), wanted


def test_filters_narrow_the_search_by_colour(shelf):
    for uid, lightness in zip("abcd", (50, 51, 52, 53), strict=True):
        shelf.save(ShadeRecord(swatch_uid=uid, lab=(lightness, 0, 0)))
    assert [n.swatch.uid for n in find_near(shelf, (50, 0, 0), cement="grey")] == ["b", "c"]
    assert [n.swatch.uid for n in find_near(shelf, (50, 0, 0), tag="spring", pigment="blue")] == ["b"]
