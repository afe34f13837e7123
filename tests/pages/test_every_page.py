"""Every page opens in the demo studio and in an empty library of one's own, without a fault."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from colormatch.pages.routes import SECTIONS, page_file

PAGES = {name: title for pages in SECTIONS.values() for name, title in pages.items()}


def test_every_page_of_the_routes_has_its_file_and_no_file_is_too_long() -> None:
    for name in PAGES:
        assert page_file(name).is_file()
    for file in Path(page_file("shade")).parent.glob("*.py"):
        assert len(file.read_text("utf-8").splitlines()) <= 400, file.name


def test_the_router_is_short() -> None:
    app = Path(__file__).resolve().parents[2] / "app.py"
    assert len(app.read_text("utf-8").splitlines()) <= 80


@pytest.mark.parametrize("name", PAGES)
def test_in_the_demo_studio(name: str, open_page: Callable[..., Any]) -> None:
    page = open_page(name)
    assert page.title[0].value == PAGES[name]
    assert not page.exception
    assert not page.error
    assert any("invented" in each.value for each in page.caption)


@pytest.mark.parametrize("name", PAGES)
def test_in_an_empty_library(name: str, open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page(name, library="own")
    assert page.title[0].value == PAGES[name]
    assert not page.exception
    assert not page.error
    assert not any("invented" in each.value for each in page.caption)
