"""Swatches: finding, mending, the bin, earlier versions."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import numpy as np
import pytest

from colormatch.difference import delta_e_2000
from colormatch.library import ShadeRecord, Swatch
from colormatch.screens.state import Wanted
from colormatch.screens.swatches import LIKE_WANTED
from colormatch.shade import Shade

KEPT = "kept|own|swatches."


@pytest.fixture
def three(own_library: Any) -> list[Swatch]:
    """Three swatches with a dry shade each."""
    kept = []
    for number, (name, lab) in enumerate({"Fog": (70, 0, 0), "Rust": (50, 20, 20), "Moss": (55, -12, 20)}.items()):
        swatch = own_library.save(Swatch(name=name, made_on=date(2026, 1, 1 + number), tags=(name.lower(), "all")))
        own_library.save(ShadeRecord.of(Shade(lab, sd=0.5), swatch_uid=swatch.uid, state="dry"))
        kept.append(swatch)
    return kept


def shown(page: Any) -> list[str]:
    return [
        page.selectbox(key=f"{KEPT}chosen").options[i] for i in range(len(page.selectbox(key=f"{KEPT}chosen").options))
    ]


def test_found_by_words_and_by_tag(open_page: Callable[..., Any], three: list[Swatch]) -> None:
    page = open_page("swatches", library="own")
    assert sorted(shown(page)) == ["Fog", "Moss", "Rust"]
    page.text_input(key=f"{KEPT}words").set_value("rus").run()
    assert shown(page) == ["Rust"]
    page.text_input(key=f"{KEPT}words").set_value("")
    page.selectbox(key=f"{KEPT}tag").set_value("moss").run()
    assert shown(page) == ["Moss"]


def test_nearest_to_the_wanted_shade_comes_first(open_page: Callable[..., Any], three: list[Swatch]) -> None:
    page = open_page("swatches", library="own", wanted=Wanted(Shade((52, -9, 18)), "typed"))
    page.selectbox(key=f"{KEPT}order").set_value(LIKE_WANTED).run()
    labs = {"Fog": (70, 0, 0), "Rust": (50, 20, 20), "Moss": (55, -12, 20)}
    off = {name: float(delta_e_2000(np.array(lab, float), np.array([52, -9, 18.0]))) for name, lab in labs.items()}
    assert shown(page) == sorted(off, key=off.__getitem__)


def test_a_change_is_kept_with_the_earlier_version(
    open_page: Callable[..., Any], three: list[Swatch], own_library: Any
) -> None:
    page = open_page("swatches", library="own")
    page.selectbox(key=f"{KEPT}chosen").set_value(three[0].uid).run()
    next(each for each in page.text_input if each.label == "Name").set_value("Sea fog")
    next(each for each in page.button if each.label == "Keep the change").click().run()
    assert own_library.get(Swatch, three[0].uid).name == "Sea fog"
    page.selectbox(key=f"{KEPT}chosen").set_value(three[0].uid).run()
    page.button(key="swatches.revert").click().run()
    assert own_library.get(Swatch, three[0].uid).name == "Fog"


def test_a_name_that_another_swatch_has_is_refused(
    open_page: Callable[..., Any], three: list[Swatch], own_library: Any
) -> None:
    page = open_page("swatches", library="own")
    page.selectbox(key=f"{KEPT}chosen").set_value(three[0].uid).run()
    next(each for each in page.text_input if each.label == "Name").set_value("rust")
    next(each for each in page.button if each.label == "Keep the change").click().run()
    assert any("is kept already" in each.value for each in page.error)
    assert own_library.get(Swatch, three[0].uid).name == "Fog"


def test_into_the_bin_and_out_again(open_page: Callable[..., Any], three: list[Swatch], own_library: Any) -> None:
    page = open_page("swatches", library="own")
    page.selectbox(key=f"{KEPT}chosen").set_value(three[1].uid).run()
    page.button(key="swatches.bin").click().run()
    assert "Rust" not in shown(page)
    page.radio(key=f"{KEPT}part").set_value("Bin").run()
    page.button(key=f"bin.{three[1].uid}").click().run()
    assert own_library.get(Swatch, three[1].uid).name == "Rust"


def test_a_measured_shade_is_added(open_page: Callable[..., Any], three: list[Swatch], own_library: Any) -> None:
    page = open_page("swatches", library="own")
    page.selectbox(key=f"{KEPT}chosen").set_value(three[0].uid).run()
    next(each for each in page.selectbox if each.label == "The piece is").set_value("sealed")
    for label, value in {"L*": 60.0, "a*": 1.0, "b*": -1.0}.items():
        next(each for each in page.number_input if each.label == label).set_value(value)
    next(each for each in page.button if each.label == "Keep this shade").click().run()
    (added,) = own_library.list(ShadeRecord, swatch_uid=three[0].uid, state="sealed")
    assert added.lab == (60.0, 1.0, -1.0)
    assert added.provenance["kind"] == "measured"


def test_wanted_again(open_page: Callable[..., Any], three: list[Swatch]) -> None:
    page = open_page("swatches", library="own")
    page.selectbox(key=f"{KEPT}chosen").set_value(three[2].uid).run()
    page.button(key="swatches.want").click().run()
    assert page.title[0].value == "Match"
    np.testing.assert_allclose(page.session_state["in hand|own"].wanted.shade.lab, (55, -12, 20))
