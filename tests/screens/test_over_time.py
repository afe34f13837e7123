"""Over time: a cast that is off is named, and defects are counted by what may have caused them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from colormatch.library import (
    BatchRecord,
    Cement,
    DefectRecord,
    PigmentRecord,
    RecipeRecord,
    ShadeRecord,
    Swatch,
)
from colormatch.shade import Shade

LOADS = {"red-iron-oxide": 0.018}


def press(page: Any, label: str) -> Any:
    next(each for each in page.button if each.label == label).click().run()
    return page


@pytest.fixture
def cast(own_library: Any) -> BatchRecord:
    """A batch of one recipe in an own library."""
    own_library.save(Cement(uid="white-cement", name="White cement", tone="white-cement"))
    own_library.save(PigmentRecord(uid="red-iron-oxide", name="Red iron oxide", like="red-iron-oxide"))
    own_library.save(
        RecipeRecord(uid="rust", name="Rust", cement_uid="white-cement", loads=LOADS, wanted_lab=(50.0, 18.0, 14.0))
    )
    return own_library.save(BatchRecord(uid="b1", name="Cups", recipe_uid="rust", made_on=date(2026, 3, 1), pieces=4))


def test_a_batch_far_off_is_named(open_page: Callable[..., Any], own_library: Any, cast: Any) -> None:
    for number, lightness in enumerate([50.0, 50.3, 49.8, 50.1, 62.0]):
        swatch = own_library.save(Swatch(name=f"Cup {number}", recipe_uid="rust", made_on=date(2026, 3, 1 + number)))
        shade = ShadeRecord.of(
            Shade((lightness, 18, 14)), swatch_uid=swatch.uid, state="dry", provenance={"kind": "measured"}
        )
        own_library.save(shade)
    page = open_page("over_time", library="own")
    shown = " ".join(each.value for each in page.html)
    assert "First out of control: Cup 4" in shown
    assert "beyond the line" in shown


def test_a_defect_is_noted_and_counted(open_page: Callable[..., Any], own_library: Any, cast: Any) -> None:
    page = open_page("over_time", library="own", address={"part": "Defects"})
    next(each for each in page.selectbox if each.label == "Defect").set_value("bubbles")
    next(each for each in page.text_input if each.label == "Pieces with it").set_value("2")
    press(page, "Note the defect")
    assert "Noted" in page.success[0].value
    assert len(own_library.list(DefectRecord, batch_uid="b1")) == 2
    page.selectbox(key="kept|own|time.word").set_value("bubbles").run()
    assert "2 of 4" in " ".join(each.value for each in page.html)
