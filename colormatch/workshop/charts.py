"""The 24-patch chart that a studio owns: its edition by name, or its own values as someone measured them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..library import Library
from ..photo import Chart24
from ..photo.chart import EDITIONS, edition_lab, read_chart
from .shelf import keep_setting, studio_of

__all__ = ["EDITIONS", "chart_words", "keep_chart", "own_chart", "take_edition"]
_CHART = "chart"  # of the studio's settings: {"edition": name} or {"lab": 24 rows, "file": its name}


def own_chart(library: Library) -> Chart24:
    """The studio's chart, to be found in a photograph; of the published reflectances where nothing was said."""
    kept = _kept(library)
    return Chart24(values=kept.get("lab"), edition=kept.get("edition"))


def chart_words(library: Library) -> str:
    """Which one it is: an edition's name, `measured, FILE`, or nothing."""
    kept = _kept(library)
    return f"measured, {kept['file']}" if "lab" in kept else str(kept.get("edition", ""))


def take_edition(library: Library, edition: str) -> None:
    """Keep which edition the studio's chart is; nothing for one that nobody knows. Raises PhotoError."""
    if edition:
        edition_lab(edition)
    keep_setting(library, _CHART, {"edition": edition} if edition else {})


def keep_chart(library: Library, file_name: str, content: bytes) -> None:
    """Keep the studio's chart as measured, from a table of 24 lines ending in L*, a*, b*; raises PhotoError."""
    keep_setting(library, _CHART, {"lab": read_chart(content).tolist(), "file": file_name})


def _kept(library: Library) -> Mapping[str, Any]:
    chart: Mapping[str, Any] = studio_of(library).settings.get(_CHART, {})
    return chart
