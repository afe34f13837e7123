"""Whatever says what to weigh, what is weighed adds up to the recipe, to the scale's step: pre-blends with the rest."""

import csv
import io
import json
import re
from dataclasses import replace
from io import BytesIO

import pytest

from colormatch import render
from colormatch.bench.batch import Tone
from colormatch.bench.sheet_html import sheet_html
from colormatch.bench.sheet_pdf import sheet_pdf
from colormatch.cli import answers, wording
from colormatch.cli.card import card_of
from colormatch.loads import Mix
from colormatch.recipes import Row, find_recipes, table_as_csv
from colormatch.shade import Shade
from colormatch.studio import studio_palette
from colormatch.workshop.plans import Casting, batch_sheet, keep_plan, plan
from colormatch.workshop.shelf import limits, offer

pytestmark = pytest.mark.slow
STEP = 0.1


@pytest.fixture(params=[(120.0, (84, 4, 9)), (200.0, (78, 6, 18)), (450.0, (70, 5, 12)), (780.0, (50, 14, 16))])
def recipe(request, studio):
    cement_g, lab = request.param
    offered = offer(studio, studio_palette(studio))
    asked = replace(limits(studio, offered), cement_g=cement_g, scale_step_g=STEP)
    return find_recipes(offered, Shade(lab), next(iter(offered.bases)), asked)[0]


def in_the_bowl(lines, recipe):
    """(cement, pigments by label) that end up in the bowl, of (what, grams) lines; a pre-blend is 1 part in 10."""
    label = recipe.palette.label
    cement, pigments = 0.0, {}
    for what, grams in lines:
        name, _, blend = what.partition(", pre-blend 1:9")
        assert grams / STEP == pytest.approx(round(grams / STEP), abs=1e-6) or name == label(recipe.base)
        if name == label(recipe.base):
            cement += grams
        else:
            share = 0.1 if blend or what.endswith("1:9") else 1.0
            pigments[name] = pigments.get(name, 0.0) + share * grams
            cement += (1 - share) * grams
    return cement, pigments


def adds_up(lines, recipe, cement_within=1e-6):
    cement, pigments = in_the_bowl(lines, recipe)
    assert cement == pytest.approx(recipe.cement_g, abs=cement_within)
    assert set(pigments) == {recipe.palette.label(name) for name in recipe.loads}
    for name, load in recipe.loads.items():
        assert pigments[recipe.palette.label(name)] == pytest.approx(load * recipe.cement_g, abs=STEP / 2 + 1e-9)


def weighed(text, recipe):
    """Lines of the form `12.3 g  Brick red` in a text."""
    labels = [recipe.palette.label(name) for name in (recipe.base, *recipe.palette.pigments)]
    found = re.findall(r"([\d.]+) g  (.+?)(?:  \(|$)", text, re.MULTILINE)
    return [(what, float(grams)) for grams, what in found if any(what.startswith(label) for label in labels)]


def test_recipe_and_json(recipe):
    label = recipe.palette.label
    for one in (recipe, recipe.preblended):
        adds_up(one.weighing(label), recipe)
    answer = json.loads(json.dumps(answers.recipe(recipe)))
    adds_up([(line["what"], line["grams"]) for line in answer["weighing"]], recipe)
    plain = [(label(recipe.base), answer["cement_g"]), *((label(n), g) for n, g in answer["grams"].items())]
    adds_up(plain, recipe)


def test_command_line(recipe):
    text = "\n".join(wording.recipe(1, recipe, recipe.palette, "", wording.Amounts()))
    plain, _, blended = text.partition("weigh instead")
    base = (recipe.palette.label(recipe.base), recipe.cement_g)
    adds_up([base, *weighed(plain, recipe)], recipe)
    assert bool(blended) == bool(recipe.small_doses)
    if blended:
        adds_up(weighed(blended, recipe), recipe, STEP / 2)  # the cement is printed to the step


def test_tables_of_many(recipe):
    row = Row("a shade", recipe.target, recipe)
    line = wording.table_of_recipes([row])[0].partition(" off: ")[2]
    parts = re.findall(r"(.+?) ([\d.]+) g(?:, |$)", line)
    adds_up([(what, float(grams)) for what, grams in parts], recipe, STEP / 2)
    (cells,) = csv.DictReader(io.StringIO(table_as_csv([row])))
    label = recipe.palette.label
    doses = [(label(name[:-2]), float(g)) for name, g in cells.items() if name[:-2] in recipe.loads]
    adds_up([(label(recipe.base), float(cells["cement g"])), *doses], recipe)


def test_card(recipe, monkeypatch):
    drawn = {}
    monkeypatch.setattr(render, "recipe_card", lambda **given: drawn.update(given))
    card_of(recipe, title="A card")
    adds_up([drawn["cement"], *((what, grams) for what, grams, _ in drawn["pigments"])], recipe)


def test_weigh_sheet_as_html_and_pdf(recipe, studio):
    from pypdf import PdfReader

    casting = Casting("A bowl", (Tone("A bowl", Mix.of(recipe.base, recipe.loads)),))
    knowledge = studio_palette(studio)
    for chosen in ((), recipe.small_doses):
        planned = plan(studio, knowledge, casting, cement_g=recipe.cement_g, preblend=chosen)
        sheet = batch_sheet(studio, knowledge, keep_plan(studio, knowledge, planned))
        lines = [(line.name, float(line.grams)) for line in sheet.blocks[0].lines if line.kind != "water"]
        adds_up(lines, recipe, 0.5)  # the cement is weighed on the bulk scale, by 1 g
        page = " ".join(PdfReader(BytesIO(sheet_pdf(sheet))).pages[0].extract_text().split())
        html = " ".join(re.sub(r"<[^>]+>", " ", sheet_html(sheet)).split())
        for text in (page, html):
            for name, grams in lines:
                assert name in text
                assert re.search(rf"\b{re.escape(f'{grams:g}')}\b", text)
            for dose in chosen:
                assert f"{recipe.palette.label(dose)}: the pre-blend is" in text


def test_advice_before_a_batch_takes_the_cement_of_the_pre_blend_off(recipe, studio):
    casting = Casting("A bowl", (Tone("A bowl", Mix.of(recipe.base, recipe.loads)),))
    for dose in plan(studio, studio_palette(studio), casting, cement_g=recipe.cement_g).small:
        assert f"{dose.blend_g - dose.grams:g} g less of the cement" in dose.words
        assert dose.blend_g == pytest.approx(10 * dose.grams)
