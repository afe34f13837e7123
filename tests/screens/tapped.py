"""What a test sees of the things to tap."""

from __future__ import annotations

import json
from typing import Any


def titles(page: Any, label: str) -> list[str]:
    """The titles of the cards called `label`, in their order; empty when they are not on the page."""
    drawn = [json.loads(each.proto.json) for each in page.get("bidi_component") if each.proto.json]
    return [card["title"] for data in drawn if data.get("label") == label for card in data["cards"]]


def lab_field(page: Any, label: str) -> Any:
    """The field of one number of a typed shade: L*, a*, b* or ±."""
    return next(each for each in page.text_input if each.label == label)
