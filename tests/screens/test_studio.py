"""The studio: the shelf, the moulds, the numbers, and the library as a whole."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from colormatch.lamps import PLAIN_NAMES
from colormatch.library import (
    Cement,
    CementLot,
    DryingWeight,
    Library,
    Mould,
    PigmentLot,
    PigmentRecord,
    ShadeRecord,
    Swatch,
    TileRecord,
    backup,
    export_library,
    import_library,
    open_demo,
    open_library,
    records_in,
)
from colormatch.shade import Shade
from colormatch.workshop.lights import keep_lamp
from colormatch.workshop.materials import add_bag, add_jar, add_mould
from colormatch.workshop.shelf import LIGHTS, defaults, shelf
from tests.screens.driven import poured


def press(page: Any, label: str) -> Any:
    next(each for each in page.button if each.label == label).click().run()
    return page


def type_in(page: Any, label: str, value: str) -> None:
    """The last field of that label: the form that was opened last stands below."""
    fields = [each for each in (*page.text_input, *page.selectbox, *page.button_group) if each.label == label]
    fields[-1].set_value(value)


@pytest.fixture
def studio(open_page: Callable[..., Any], own_library: Library) -> Callable[..., Any]:
    def opened(part: str = "shelf", item: str = "") -> Any:
        page = open_page("studio", library="own", address={"part": part, **({"item": item} if item else {})})
        assert not page.exception
        return page

    return opened


def test_an_empty_shelf_asks_for_a_bag_and_then_for_a_jar(studio: Callable[..., Any], own_library: Library) -> None:
    page = studio()
    type_in(page, "Name on the bag", "White cement")
    press(page, "Keep the bag")
    assert not page.error
    type_in(page, "Name on the lid", "Brick red")
    type_in(page, "Closest known pigment", "red-iron-oxide")
    press(page, "Keep the jar")
    (jar,) = own_library.list(PigmentRecord)
    assert (jar.name, jar.like) == ("Brick red", "red-iron-oxide")
    assert own_library.count(Cement) == own_library.count(CementLot) == 1
    ladder = next(each.value for each in page.html if "ladder" in each.value)
    assert "Brick red in White cement, dry, at 0.5 %, 1 %, 2 %, 5 %" in ladder  # the text alternative


def test_a_second_jar_stands_beside_the_first(studio: Callable[..., Any], own_library: Library) -> None:
    page = studio()
    type_in(page, "Name on the bag", "White")
    press(page, "Keep the bag")
    for name in ("Brick red", "Ochre"):
        if name == "Ochre":
            press(page, "Add a jar")
        type_in(page, "Name on the lid", name)
        press(page, "Keep the jar")
    assert [each.name for each in shelf(own_library).pigments] == ["Brick red", "Ochre"]
    press(page, "Add a jar")
    type_in(page, "Name on the lid", "ochre")
    press(page, "Keep the jar")
    assert "There is a pigment called" in page.error[0].value
    assert own_library.count(PigmentRecord) == 2


def test_a_number_that_could_be_two_is_asked_about_and_a_tap_goes_on(
    studio: Callable[..., Any], own_library: Library
) -> None:
    add_bag(own_library, "White")
    page = studio()
    type_in(page, "Name on the lid", "Brick red")
    type_in(page, "In the jar, g", "1,250")
    press(page, "Keep the jar")
    assert own_library.count(PigmentRecord) == 0
    for again in (page, studio()):  # the question is open still when the page is loaded anew
        assert "1.25 g or 1250 g" in again.warning[0].value.replace("\\", "")
    press(again, "1250 g")
    assert [lot.stock_g for lot in own_library.list(PigmentLot)] == [1250.0]


def test_half_typed_forms_are_found_again_and_empty_once_kept(studio: Callable[..., Any], own_library: Library) -> None:
    add_bag(own_library, "White")
    mould = add_mould(own_library, "Tray", volume_ml=300)
    for part, label, item in (
        ("shelf", "Name on the lid", ""),
        ("moulds", "Name of the mould", "new"),
        ("moulds", "Wet mix, g", mould.uid),
        ("numbers", "Most pigment, % of the cement", ""),
    ):
        page = studio(part, item)
        type_in(page, label, "4,5")
        page.run()
        assert next(each for each in studio(part, item).text_input if each.label == label).value == "4,5"
    press(studio("numbers"), "Keep")
    assert defaults(own_library).load_cap == pytest.approx(0.045)
    press(studio("moulds", mould.uid), "Keep")
    assert own_library.get(Mould, mould.uid).fill_weight_g == 4.5
    press(studio(), "Keep the jar")
    assert next(each for each in studio("shelf", "new jar").text_input if "lid" in each.label).value == ""


@pytest.mark.parametrize(("typed", "says"), [("abc", "no number"), ("-3", "below zero"), ("1e9", "no number")])
def test_a_refused_number_says_why_and_stays_typed(
    studio: Callable[..., Any], own_library: Library, typed: str, says: str
) -> None:
    add_bag(own_library, "White")
    page = studio()
    type_in(page, "Name on the lid", "Brick red")
    type_in(page, "In the jar, g", typed)
    press(page, "Keep the jar")
    assert says in page.error[0].value
    assert next(each for each in page.text_input if each.label == "In the jar, g").value == typed
    assert own_library.count(PigmentRecord) == 0


def test_a_jar_is_changed_used_up_and_comes_back(studio: Callable[..., Any], own_library: Library) -> None:
    add_bag(own_library, "White")
    jar = add_jar(own_library, "Brick red")
    page = studio()
    page.button(key=f"shelf.{jar.uid}").click().run()
    type_in(page, "Name", "Brick")
    type_in(page, "At most, as its data sheet says, % of the cement", "4,5")
    press(page, "Keep")
    kept = own_library.get(PigmentRecord, jar.uid)
    assert (kept.name, kept.maximum_load) == ("Brick", pytest.approx(0.045))
    press(page, "It is used up")
    assert shelf(own_library).pigments == ()
    assert own_library.get(PigmentRecord, jar.uid).name == "Brick"  # what was learned of it stays
    press(page, "Back on the shelf")
    assert [each.name for each in shelf(own_library).pigments] == ["Brick"]


def test_a_jar_is_not_renamed_to_what_another_is_called(studio: Callable[..., Any], own_library: Library) -> None:
    add_bag(own_library, "White")
    add_jar(own_library, "Brick red")
    ochre = add_jar(own_library, "Ochre")
    page = studio()
    page.button(key=f"shelf.{ochre.uid}").click().run()
    next(each for each in page.text_input if each.label == "Name").set_value("brick Red")
    page.button(key=f"material.{ochre.uid}.keep").click().run()
    assert "called 'brick Red' already" in page.error[0].value.replace("\\", "")
    assert own_library.get(PigmentRecord, ochre.uid).name == "Ochre"


def test_a_further_bag_may_be_learned_on_its_own(studio: Callable[..., Any], own_library: Library) -> None:
    bag = add_bag(own_library, "White")
    page = studio()
    page.button(key=f"shelf.{bag.uid}").click().run()
    next(each for each in page.checkbox if "look different" in each.label).set_value(True)
    press(page, "Add the bag")
    assert not page.error
    assert own_library.count(Cement) == 2
    assert own_library.count(CementLot) == 2


def test_what_was_entered_by_mistake_is_removed_and_restored(studio: Callable[..., Any], own_library: Library) -> None:
    add_bag(own_library, "White")
    jar = add_jar(own_library, "Mistake")
    page = studio()
    page.button(key=f"shelf.{jar.uid}").click().run()
    press(page, "Remove it")
    assert own_library.count(PigmentRecord) == 0
    page = studio("library")
    page.button(key=f"bin.{jar.uid}").click().run()
    assert own_library.get(PigmentRecord, jar.uid).name == "Mistake"
    assert "Mistake" in page.success[0].value
    page.run()
    assert not page.success  # said once, where it happened


def test_a_tile_and_a_weight_are_in_the_bin_by_what_they_are(
    studio: Callable[..., Any], own_library: Library, rust: Any
) -> None:
    tile = own_library.save(TileRecord(cement_uid="white-quick", loads={"ochre": 0.02}))
    own_library.save(ShadeRecord.of(Shade((60, 5, 20), sd=0.5), tile_uid=tile.uid))
    piece = poured(own_library, rust)[0]
    weight = own_library.save(
        DryingWeight(batch_uid=rust.uid, piece_uid=piece.uid, piece=piece.name, weighed_at=piece.cast_at, mass_g=312.5)
    )
    for each in (tile, weight):
        own_library.delete(each)
    page = studio("library")
    text = " ".join(each.value for each in page.html)
    assert "White, quick: 2.00 % Ochre" in text
    assert "test tile, in the bin since" in text
    assert f"{piece.name}: 312.5 g" in text
    assert "measured shade, in the bin" not in text  # it comes out with its tile
    page.button(key=f"bin.{tile.uid}").click().run()
    page.button(key=f"bin.{weight.uid}").click().run()
    assert len(own_library.list(ShadeRecord, tile_uid=tile.uid)) == 1
    assert own_library.get(TileRecord, tile.uid)
    assert own_library.get(DryingWeight, weight.uid)


def test_moulds_by_water_and_by_mix_and_unusable_ones_refused(studio: Callable[..., Any], own_library: Library) -> None:
    page = studio("moulds")
    type_in(page, "Name of the mould", "Bowl")
    press(page, "Keep the mould")
    assert "One filling is missing" in page.error[0].value
    type_in(page, "One filling, g", "0")
    press(page, "Keep the mould")
    assert page.error
    type_in(page, "One filling, g", "323,5")
    press(page, "Keep the mould")
    (mould,) = own_library.list(Mould)
    assert (mould.name, mould.volume_ml, mould.fill_weight_g) == ("Bowl", 323.5, None)
    page.button(key=f"moulds.{mould.uid}").click().run()
    type_in(page, "Wet mix, g", "655")
    press(page, "Keep")
    assert own_library.get(Mould, mould.uid).fill_weight_g == 655.0


def test_the_usual_mould_and_bag_are_chosen(studio: Callable[..., Any], own_library: Library) -> None:
    mould = add_mould(own_library, "Tray", volume_ml=200.0)
    page = studio("moulds")
    page.button(key=f"moulds.{mould.uid}").click().run()
    press(page, "Let forms start with this one")
    assert defaults(own_library).mould_uid == mould.uid


def test_the_studio_numbers_are_kept_or_refused_as_a_whole(studio: Callable[..., Any], own_library: Library) -> None:
    keep_lamp(own_library, "Over the bench", "lamp.csv", b"nm,power\n380,1\n780,2\n")
    page = studio("numbers")
    type_in(page, "Pieces are seen in", "Over the bench")
    press(page, "Keep")
    assert defaults(own_library).light == "Over the bench"
    type_in(page, "Name of the studio", "Harbour Lane Yard")
    type_in(page, "Most pigment, % of the cement", "3,5")
    type_in(page, "Pieces are seen in", "bulb")
    press(page, "Keep")
    assert defaults(own_library).load_cap == pytest.approx(0.035)
    assert defaults(own_library).light == "bulb"
    assert "Harbour Lane Yard" in page.markdown[0].value
    type_in(page, "Most pigment, % of the cement", "11")
    press(page, "Keep")
    assert page.error
    assert not page.success
    assert defaults(own_library).load_cap == pytest.approx(0.035)


def test_every_light_offered_is_one_that_recipes_know() -> None:
    assert set(LIGHTS) - {""} <= set(PLAIN_NAMES)


# --- the library as a whole -------------------------------------------------------------------------


@pytest.fixture
def three(own_library: Library) -> Library:
    own_library.save_all([Swatch(name=name) for name in ("Fog", "Rust", "Moss")])
    return own_library


def test_imported_only_after_a_look_at_what_would_change(
    studio: Callable[..., Any], own_library: Library, tmp_path: Path, places: Path
) -> None:
    with open_demo() as demo:
        content = export_library(demo, tmp_path / "demo.zip").read_bytes()
        expected = demo.count(Swatch)
    page = studio("library")
    page.file_uploader(key="import.file.0").set_value(("demo.zip", content, "application/zip")).run()
    assert any("would be added" in each.value for each in page.markdown)
    assert own_library.count(Swatch) == 0
    press(page, "Import it")
    assert own_library.count(Swatch) == expected


@pytest.mark.parametrize("content", [b"", b"no zip", b"PK\x05\x06" + 18 * b"\0"])
def test_a_file_that_is_no_exported_library_is_a_sentence(studio: Callable[..., Any], content: bytes) -> None:
    page = studio("library")
    page.file_uploader(key="import.file.0").set_value(("x.zip", content, "application/zip")).run()
    assert not page.exception
    assert page.error
    assert "fault of this program" not in page.error[0].value


def test_the_export_holds_the_library(studio: Callable[..., Any], three: Library, tmp_path: Path) -> None:
    page = studio("library")
    page.button(key="export.write").click().run()
    (tmp_path / "out.zip").write_bytes(page.session_state["kept|own|export.content"][0])
    with open_library(tmp_path / "other") as other:
        import_library(other, tmp_path / "out.zip")
        assert {each.name for each in other.list(Swatch)} == {"Fog", "Rust", "Moss"}


@pytest.mark.slow
def test_restoring_a_backup_keeps_what_is_there_aside(
    studio: Callable[..., Any], three: Library, tmp_path: Path
) -> None:
    content = backup(three, tmp_path / "then.zip").path.read_bytes()
    three.save(Swatch(uid="later", name="Later"))
    page = studio("library")
    page.file_uploader(key="restore.file.0").set_value(("backup.zip", content, "application/zip")).run()
    assert any("<td>Swatches</td><td>4 now, 3 in the backup</td>" in each.value for each in page.html)
    assert three.count(Swatch) == 4  # nothing before the maker says so
    page.button(key="restore-it-sure").click().run()
    assert not page.error
    assert sorted(each.name for each in three.list(Swatch)) == ["Fog", "Moss", "Rust"]
    (aside,) = (three.folder / "kept-aside").iterdir()
    assert str(aside) in page.success[0].value.replace("\\", "")
    assert records_in(aside)["swatch"] == 4


def test_a_file_that_is_no_backup_is_a_sentence(studio: Callable[..., Any], three: Library) -> None:
    page = studio("library")
    page.file_uploader(key="restore.file.0").set_value(("backup.zip", b"PK nothing", "application/zip")).run()
    assert "not a backup" in page.error[0].value
    assert three.count(Swatch) == 3
