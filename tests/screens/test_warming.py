"""Made ready in the background: the field's library is imported, and the collector leaves alone what stays."""

import atexit
import gc
from collections.abc import Iterator

import pytest

from colormatch import science
from colormatch.screens import warming


@pytest.fixture
def collector() -> Iterator[None]:
    """As other tests left it, and leave it so."""
    yield
    gc.unfreeze()


def test_what_is_imported_is_here_and_not_looked_through_again(
    collector: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_the_end: list[object] = []
    monkeypatch.setattr(atexit, "register", at_the_end.append)
    before = gc.get_freeze_count()
    warming._ready()
    assert science.is_here()
    assert gc.get_freeze_count() > before + 10_000
    assert gc.unfreeze in at_the_end  # else the end of a server tells of leaks that are none
