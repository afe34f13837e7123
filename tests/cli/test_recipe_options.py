"""The recipe commands' further ways in and out: bases, spectra, lights, shade cards, two tones; what is hidden."""

import csv
import json

import numpy as np
import pytest

import colormatch as cm
from colormatch.cli import wording
from colormatch.cli.card import card_of
from colormatch.colorimetry import reflectance_to_lab
from colormatch.library import RecipeRecord, open_library
from colormatch.workshop.lights import keep_lamp

NM = np.arange(400, 701, 10)


@pytest.fixture
def spectrum(tmp_path):
    """A file of one reddish sample, of our own making."""
    values = cm.starter_palette().reflectance({"red-iron-oxide": 0.01}, "white-cement")
    rows = [f"{nm},{value:.6f}" for nm, value in zip(NM, values, strict=True)]
    (tmp_path / "sample.csv").write_text("\n".join(["nm,rosy", *rows]))
    return values


@pytest.mark.parametrize(
    ("typed", "grams"),
    [("1.250", "1.25 g"), ("1 250", "1250 g"), ("1,250.5", "1250.5 g"), ("+0,78kg", "780 g"), ("1e3", "1000 g"),
     ("7,8e2 g", "780 g")],
)  # fmt: skip
def test_a_weight_is_read_as_at_the_bowl(run, typed, grams):
    status, out, _ = run("recipe", "--lab", "52,18,20", "--cement", typed)
    assert status == 0
    assert f"For {grams} of dry cement" in out


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("1,250", "is that 1.25 or 1250"),
        ("1,,5e3", "which is no number"),
        ("5kgg", "with g or kg"),
        ("-5", "more than 0"),
    ],
)
def test_a_weight_that_may_mean_two_things_is_asked_about(run, typed, words):
    status, _, said = run("recipe", "--lab", "52,18,20", f"--cement={typed}")
    assert status == 2
    assert words in said


def test_amounts_stand_with_their_basis(run):
    _, plain, _ = run("recipe", "--lab", "52,18,20")
    _, mortar, _ = run("recipe", "--lab", "52,18,20", "--basis", "g per kg dry mix", "--sand", "2")
    assert "% of cement)" in plain
    assert "g per kg dry mix)" in mortar
    assert "% of cement" not in mortar.split("\n\n", 1)[1]
    status, _, err = run("recipe", "--lab", "52,18,20", "--basis", "% of sand")
    assert status == 2
    assert "choose one of" in err


def test_a_recipe_from_elsewhere_becomes_a_swatch(run, tmp_path):
    """1.2 % of 1 cement + 2 sand + 0.5 water + pigment is 4.25 % of the cement."""
    given = ("preview", "Red iron oxide=1.2", "--basis", "% of total mix", "--sand", "2", "--water", "0.5")
    _, out, _ = run(*given, "--keep", "From a book")
    assert "1.2 % of total mix" in out
    with open_library(tmp_path / "studio") as library:
        (kept,) = [each for each in library.list(RecipeRecord) if each.name == "From a book"]
    assert kept.loads["red-iron-oxide"] == pytest.approx(0.012 * 3.5 / 0.988, abs=1e-9)
    status, _, err = run("preview", "Red iron oxide=4", "--basis", "% of dry mix", "--sand", "2")
    assert status == 2
    assert "of cement" in err


def test_a_spectrum_is_a_target_and_says_its_metamerism(run, spectrum):
    answer = json.loads(run("recipe", "--spectrum", "sample.csv", "--json")[1])
    assert answer["target"]["lab"] == pytest.approx(reflectance_to_lab(spectrum).tolist(), abs=0.01)
    assert answer["recipes"][0]["metamerism"] == pytest.approx(0, abs=0.3)
    assert json.loads(run("recipe", "--lab", "60,8,18", "--json")[1])["recipes"][0]["metamerism"] is None


def test_a_broken_or_unnamed_spectrum_is_one_sentence(run, spectrum, tmp_path):
    for arguments in (("--spectrum", "sample.csv", "--sample", "blue"), ("--spectrum", "none.csv")):
        status, _, err = run("recipe", *arguments)
        assert status == 2
        assert len(err.splitlines()) == 1
    (tmp_path / "cut.txt").write_text("BEGIN_DATA_FORMAT\nnm400")
    assert run("recipe", "--spectrum", "cut.txt")[0] == 2


@pytest.mark.slow
def test_a_shade_says_its_munsell_notation(run, spectrum):
    _, out, _ = run("shade", "sample.csv", library=False)
    assert "rosy" in out
    assert "Munsell   " in out
    answer = json.loads(run("shade", "sample.csv", "--json", library=False)[1])
    assert answer["shades"]["rosy"]["munsell"] == cm.munsell(reflectance_to_lab(spectrum))


@pytest.mark.slow
def test_lights_by_plain_name_by_any_name_from_a_file_and_kept(run, tmp_path):
    table = "\n".join(["nm,power", *(f"{nm},{nm}" for nm in range(380, 781, 20))])
    (tmp_path / "shop lamp.csv").write_text(table)
    with open_library(tmp_path / "studio") as library:
        keep_lamp(library, "bench lamp", "lamp.csv", table.encode())

    def worst(*lights):
        asked = [part for light in lights for part in ("--light", light)]
        return json.loads(run("recipe", "--lab", "60,8,18", "--json", *asked)[1])["recipes"][0]["inconstancy"]

    alone = [worst(light) for light in ("living room", "FL11", "shop lamp.csv", "bench lamp")]
    assert worst("living room", "FL11") == max(alone[:2])
    assert alone[2] == alone[3]
    _, out, _ = run("recipe", "--lab", "60,8,18", "--light", "shop lamp.csv")
    assert "From daylight to shop lamp" in out
    assert "not a miss of the match" in out
    assert run("recipe", "--lab", "60,8,18", "--light", "moon")[0] == 2


@pytest.mark.slow
def test_two_tones_are_held_against_common_colour_vision(run):
    answer = json.loads(run("two-tones", "55,14,20", "55,2,23", "--json")[1])
    assert "deuteranopia" in answer["sentence"]
    assert answer["seen_with"]["deuteranopia"] < 4 < answer["delta_e"]
    assert run("two-tones", "no such swatch", "#ffffff")[0] == 2


def test_a_shade_card_becomes_one_table(run, tmp_path):
    (tmp_path / "card.csv").write_text("name,L,a,b\nclay,52,18,20\npink,70,55,-5\nclay,58,-8,18\n")
    _, out, _ = run("recipe", "--shades", "card.csv", "--out", "table.csv")
    rows = list(csv.DictReader((tmp_path / "table.csv").read_text().splitlines()))
    assert [row["shade"] for row in rows] == ["clay", "pink", "clay (line 4)"]
    assert "out of reach" in out.splitlines()[1]


def test_the_distance_by_the_model_is_hidden_where_the_uncertainty_drowns_it(palette):
    vague = cm.find_recipes(palette, cm.Shade((62, 12, 18)))[0]
    assert vague.drowned
    sure = cm.find_recipes(palette.with_posterior(palette.mean, 0 * palette.covariance), cm.Shade((75, 55, -5)))[0]
    assert not sure.drowned
    for recipe, shown in ((vague, False), (sure, True)):
        lines = wording.recipe(1, recipe, palette, "", wording.Amounts())
        assert ("by the model" in " ".join(lines[1:])) is shown
        assert ("dE00" in repr(recipe)) is False


@pytest.fixture(scope="module")
def palette():
    return cm.starter_palette()


def test_the_card_says_what_its_change_under_lamps_is(palette, monkeypatch):
    import colormatch.render as render

    said = {}
    monkeypatch.setattr(render, "recipe_card", lambda **given: said.update(given))
    recipe = cm.find_recipes(palette, cm.Shade((62, 12, 18)))[0]
    card_of(recipe, title="A card")
    words = " ".join(what for what, _ in said["numbers"])
    assert "Worst" not in words
    assert "by the model" not in words
    assert "Its own change from daylight to lamplight (not a miss of the match)" in words
