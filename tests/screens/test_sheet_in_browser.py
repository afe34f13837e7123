"""The weigh sheet as a page of its own, on a phone."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

import colormatch as cm
from colormatch.bench.sheet import compose_sheet
from colormatch.bench.sheet_html import sheet_html
from tests.bench.test_sheet import two_tones

pytestmark = pytest.mark.browser


def test_the_html_reads_on_a_phone(chromium: Any) -> None:
    """At 360 px: no sideways scroll, letters of at least 12 px, and no name cut."""
    name = "Yellow iron oxide of the other shop, second jar"
    palette = cm.starter_palette()
    pigments = {key: replace(each, label=name) for key, each in palette.pigments.items()}
    sheet = compose_sheet(two_tones(), title=name, palette=replace(palette, pigments=pigments))
    page = chromium.new_page(viewport={"width": 360, "height": 740})
    page.set_content(sheet_html(sheet))
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    words = "[...document.querySelectorAll('body *')].filter(each => each.innerText)"
    assert page.evaluate(f"Math.min(...{words}.map(each => parseFloat(getComputedStyle(each).fontSize)))") >= 12
    cut = "each => each.scrollWidth > each.clientWidth + 1 || each.scrollHeight > each.clientHeight + 1"
    assert not page.evaluate(f"[...document.querySelectorAll('td.name > bdi')].some({cut})")
    page.close()
