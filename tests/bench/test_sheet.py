"""The batch sheet: everything on it, one page, and names that mean harm."""

from __future__ import annotations

import re
import shutil
import subprocess
from datetime import date
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import colormatch as cm
from colormatch.bench.batch import Bowl, Tone, bowls_for, plan_batch
from colormatch.bench.cautions import STEPS
from colormatch.bench.sheet import batch_code, compose_sheet
from colormatch.bench.sheet_html import letter_size, sheet_html
from colormatch.bench.sheet_pdf import sheet_pdf
from colormatch.errors import InputError
from colormatch.loads import Mix
from colormatch.naming import one_line

REFERENCE = Path(__file__).parent / "reference" / "sheet.png"
RED = {"red-iron-oxide": 0.012, "yellow-iron-oxide": 0.02, "titanium-white": 0.01}
HOSTILE = [
    "<script>alert(1)</script>",
    "\"'><img src=x onerror=alert(1)>",
    "\u202egnp.exe \u2066שלום عربى",
    "🏺🎨 👩\u200d🎨",
    "Z̸̛͓̈́" * 50,
    "a\x00b\x07c\r\n\td",
    "x" * 10_000,
    "&amp;<b>bold</b>&#60;",
    "",
]
OUR_TAGS = {"html", "head", "meta", "title", "style", "body", "header", "div", "h1", "h2", "p", "small", "b", "bdi"}
OUR_TAGS |= {"section", "table", "colgroup", "col", "tr", "th", "td", "span", "i", "br", "ol", "li", "footer"}


def two_tones():
    tones = [
        Tone("Body", Mix.of("white-cement", RED), 0.7),
        Tone("Foot", Mix.of("grey-cement", {"black-iron-oxide": 0.03}), 0.3),
    ]
    return plan_batch(bowls_for(tones, fill_g=410.0, pieces=4, waste=0.1), pieces=4, waste=0.1, fill_g=410.0)


def two_tone_sheet(**changes):
    palette = cm.starter_palette()
    prices = {name: record.price_per_kg for name, record in {**palette.bases, **palette.pigments}.items()}
    options = {"title": "Dune cups", "palette": palette, "made_on": date(2026, 3, 1), "prices_per_kg": prices}
    return compose_sheet(two_tones(), **{**options, "currency": "EUR", **changes})


def crowded(name):
    """Four bowls of eight pigments, every name the same hostile one, every use and a note."""
    palette = cm.starter_palette().with_base("base", label=name)
    for number in range(8):
        palette = palette.with_pigment(f"p{number}", like="red-iron-oxide", label=f"{number} {name}")
    loads = {f"p{number}": 0.005 for number in range(8)}
    bowls = [Bowl(f"{name} {number}", Mix.of("base", loads), 300.0) for number in range(4)]
    uses = ("candle vessel", "food contact", "planter", "edges")
    return compose_sheet(plan_batch(bowls), title=name, palette=palette, uses=uses, notes=[name])


def pages(pdf):
    from pypdf import PdfReader

    return PdfReader(BytesIO(pdf)).pages


class Tags(HTMLParser):
    """The tags of a document and its text."""

    def __init__(self, document):
        super().__init__()
        self.tags, self.text = [], []
        self.feed(document)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.text.append(data)


def test_everything_is_on_the_sheet():
    batch, sheet = two_tones(), two_tone_sheet()
    text = " ".join(Tags(sheet_html(sheet)).text)
    printed = " ".join(pages(sheet_pdf(sheet))[0].extract_text().split())
    for bowl in batch.bowls:
        for grams in (bowl.cement_g, bowl.water_start_g, bowl.water_most_g, *bowl.pigments_g.values()):
            assert f"{grams:.1f}" in text
            assert f"{grams:.1f}" in printed
        assert f"{bowl.cap_g:.4g} g" in text
    for words in (
        sheet.code,
        "1 March 2026",
        "4 pieces",
        "10 % for waste",
        "EUR",
        "Additive",
        "up to",
        "g weighed",
        "jar ____",
    ):
        assert words in text
        assert words in printed
    for step in STEPS:
        assert step.caution in text
        assert step.caution.split()[0] in printed
    assert "Safety data sheets" in printed


@pytest.mark.parametrize(("prices", "told"), [
    (None, ""), ({}, ""), ({"white-cement": None}, ""), ({"white-cement": 2.0}, "Cost 1.95 EUR"),
])  # fmt: skip
def test_without_any_price_no_cost_is_told(prices, told):
    last = two_tone_sheet(prices_per_kg=prices).facts[-1]
    assert last.startswith(told) if told else "Cost" not in last


def test_chips_have_letters_and_numbers_for_black_and_white():
    sheet = two_tone_sheet()
    chips = [chip for block in sheet.blocks for chip in block.chips]
    assert [chip.letter for chip in chips] == list("ABCDEF")
    lab = cm.starter_palette().predict(two_tones().bowls[0].loads, "white-cement", "dry").lab
    assert chips[1].state == "dry"
    assert chips[1].numbers == "L* {:.0f} a* {:.0f} b* {:.0f}".format(*lab)
    assert all(re.fullmatch("#[0-9a-f]{6}", chip.hex) for chip in chips)


def test_the_code_stands_for_the_batch():
    batch = two_tones()
    code = batch_code(batch, title="Dune cups", made_on=date(2026, 3, 1))
    assert code == two_tone_sheet().code
    assert re.fullmatch("[2-9A-HJ-NP-Z]{6}", code)
    assert code != batch_code(batch, title="Dune cups", made_on=date(2026, 3, 2))
    codes = {batch_code(batch, title=str(number)) for number in range(3000)}
    assert len(codes) >= 2995  # thirty bits: a chance of 1 in 240 that any two of 3000 meet


@pytest.mark.slow
@pytest.mark.parametrize("name", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_names_break_nothing(name):
    sheet = crowded(name or " ")
    document = sheet_html(sheet)
    tags = Tags(document)
    assert {tag for tag, _ in tags.tags} <= OUR_TAGS
    assert not any(key.startswith("on") or key == "src" for _, attributes in tags.tags for key in attributes)
    assert len(document) < 60_000
    assert len(pages(sheet_pdf(sheet))) == 1
    assert not re.search("[\u202a-\u202e\u2066-\u2069\x00]", document)


@given(st.text(max_size=100))
def test_short_names_are_short_and_plain(name):
    short = one_line(name)
    assert len(short) <= 44
    assert short == " ".join(short.split())
    assert one_line(short) == short


def test_sizes_follow_the_content():
    assert letter_size(two_tone_sheet()) > 10
    assert 4 < letter_size(crowded("a name")) < letter_size(two_tone_sheet())


def test_too_many_bowls_are_refused():
    bowls = [Bowl(str(n), Mix.of("white-cement", {}), 100.0) for n in range(5)]
    with pytest.raises(InputError, match="at most 4 bowls"):
        compose_sheet(plan_batch(bowls), title="x", palette=cm.starter_palette())


def test_the_pdf_is_the_same_every_time():
    assert sheet_pdf(two_tone_sheet()) == sheet_pdf(two_tone_sheet())


def drawn_small(pdf, folder):
    """The first page as grey values (212, 150), blurred by the reduction."""
    from PIL import Image

    (folder / "sheet.pdf").write_bytes(pdf)
    subprocess.run(["pdftoppm", "-r", "72", "-gray", "-png", "sheet.pdf", "sheet"], cwd=folder, check=True)
    with Image.open(next(folder.glob("sheet*.png"))) as image:
        return np.asarray(image.convert("L").resize((150, 212), Image.Resampling.BOX), dtype=float)


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm (Debian's poppler-utils) is not installed")
def test_the_sheet_looks_as_it_did(tmp_path):
    """Against a picture that was looked at; letters may differ a little where other fonts are installed."""
    from PIL import Image

    fresh = drawn_small(sheet_pdf(two_tone_sheet()), tmp_path)
    with Image.open(REFERENCE) as image:
        kept = np.asarray(image, dtype=float)
    assert fresh.shape == kept.shape
    assert np.abs(fresh - kept).mean() < 6
    assert np.corrcoef(fresh.ravel(), kept.ravel())[0, 1] > 0.9


@pytest.mark.browser
@pytest.mark.skipif(shutil.which("chromium") is None, reason="Debian's chromium is not installed")
@pytest.mark.parametrize("which", ["two tones", *range(len(HOSTILE))])
def test_the_html_prints_on_one_page(tmp_path, which):
    sheet = two_tone_sheet() if which == "two tones" else crowded(HOSTILE[which] or " ")
    page = tmp_path / "sheet.html"
    page.write_text(sheet_html(sheet), encoding="utf-8")
    command = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking"]
    command += ["--disable-component-update", "--disable-sync", "--no-first-run", "--no-pdf-header-footer"]
    command += ["--host-resolver-rules=MAP * ~NOTFOUND", f"--user-data-dir={tmp_path / 'profile'}"]
    printed = tmp_path / "sheet.pdf"
    subprocess.run([*command, f"--print-to-pdf={printed}", page.as_uri()], check=True, capture_output=True, timeout=60)
    assert len(pages(printed.read_bytes())) == 1


@pytest.mark.parametrize("name", ["Чаша Ёлка", "Ωμέγα ύψος", "赤いボウル", "红碗", "빨강 그릇"])
def test_names_in_other_scripts_are_in_the_pdf(name):
    batch = plan_batch([Bowl(name, Mix.of("white-cement", {"red-iron-oxide": 0.02}), 260.0)])
    (page,) = pages(sheet_pdf(compose_sheet(batch, title=name, palette=cm.starter_palette())))
    assert name in page.extract_text()


def test_without_fonts_of_the_machine_names_are_in_fonts_that_readers_know(monkeypatch):
    from colormatch.bench import sheet_pdf as module

    monkeypatch.setattr(module, "_further", list)
    assert module._shown("赤", japanese=True) == ("HeiseiKakuGo-W5", "赤")
    assert module._shown("红", japanese=False) == ("STSong-Light", "红")
    assert module._shown("빨", japanese=False) == ("HYGothic-Medium", "빨")


def test_the_sheet_is_in_the_order_of_the_bowl():
    """Cement, pigments from the largest dose to the smallest, and water on one line."""
    for bowl, block in zip(two_tones().bowls, two_tone_sheet().blocks, strict=True):
        pigments = [float(line.grams) for line in block.lines if line.kind == "pigment"]
        assert pigments == sorted(bowl.pigments_g.values(), reverse=True)
        kinds = [line.kind for line in block.lines]
        assert kinds == ["cement", *["pigment"] * len(pigments), "water"]
        water = block.lines[-1]
        assert (float(water.grams), float(water.up_to)) == (bowl.water_start_g, bowl.water_most_g)
