"""Every page opens in the demo studio and in an empty library of one's own, without a fault."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from colormatch.screens.routes import PLACES, page_file

PAGES = [place.name for place in PLACES]


def test_every_page_of_the_routes_has_its_file_and_no_file_is_too_long() -> None:
    for name in PAGES:
        assert page_file(name).is_file()
    for file in page_file("start").parent.glob("*.py"):
        assert len(file.read_text("utf-8").splitlines()) <= 400, file.name


def test_the_router_is_short() -> None:
    app = Path(__file__).resolve().parents[2] / "app.py"
    assert len(app.read_text("utf-8").splitlines()) <= 80


@pytest.mark.parametrize("name", PAGES)
def test_in_the_demo_studio(name: str, open_page: Callable[..., Any]) -> None:
    page = open_page(name)
    assert len(page.title) == 1
    assert not page.exception
    assert not page.error
    assert "invented" in page.markdown[0].value


@pytest.mark.parametrize("name", PAGES)
def test_in_an_empty_library(name: str, open_page: Callable[..., Any], own_library: Any) -> None:
    page = open_page(name, library="own")
    assert len(page.title) == 1
    assert not page.exception
    assert not page.error
    assert "invented" not in page.markdown[0].value


def test_what_was_chosen_and_is_gone_does_no_harm(open_page: Callable[..., Any], own_library: Any) -> None:
    """A pigment, swatch or batch that was chosen before and is in the bin now."""
    from colormatch.library import save_draft
    from colormatch.screens.state import Wanted
    from colormatch.shade import Shade

    gone = {
        "swatches": {"swatches.pigment": "gone", "swatches.tag": "gone"},
        "bench": {"bench.find": "gone"},
        "tiles": {},
        "studio": {},
    }
    work = {"base": "gone", "never": ["gone"], "state": "sealed:gone", "photograph": "gone", "known": "gone"}
    save_draft(own_library, "match", content={**work, "reference": "A swatch of mine", "fixed": {"gone": 0.01}})
    save_draft(own_library, "form tile", content={"base": "gone", "pigments": ["gone"]})
    for name, inputs in {"match": {}, **gone}.items():
        page = open_page(
            name,
            library="own",
            typed=inputs,
            address={"item": "gone", "view": "Measure"},
            wanted=Wanted(Shade((50, 10, 10)), "typed"),
        )
        assert not page.exception, name
        assert not page.error, (name, page.error[0].value)
