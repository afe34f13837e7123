"""The phone: the address and its QR code are shown while the page is shared with its key, and only then."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from colormatch.serving import access
from colormatch.serving.access import Access

KEY = "a-key-that-nobody-guesses"


def shown(page: Any) -> str:
    return " ".join(each.value for each in page.html)


@pytest.mark.parametrize("served", [None, Access("http://127.0.0.1:8501")])
def test_nothing_to_scan_on_a_page_that_is_not_shared(
    open_page: Callable[..., Any], monkeypatch: pytest.MonkeyPatch, served: Access | None
) -> None:
    monkeypatch.setattr(access, "_current", served)
    text = shown(open_page("start"))
    assert "open on this machine only" in text
    assert "<img" not in text
    assert "127.0.0.1" not in text


def test_shared_the_phone_opens_the_library_that_is_open_here(
    open_page: Callable[..., Any], monkeypatch: pytest.MonkeyPatch, own_library: Any
) -> None:
    monkeypatch.setattr(access, "_current", Access("http://192.0.2.7:8501", KEY))
    text = shown(open_page("start", library="own"))
    assert f"http://192.0.2.7:8501/?key={KEY}&amp;library=own" in text
    assert 'alt="The page&#x27;s address as a QR code"' in text
    assert "Whoever has this address" in text
