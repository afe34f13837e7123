"""Made ready in the background: the field's library is imported, and the collector leaves alone what stays."""

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


def test_what_is_imported_is_here_and_not_looked_through_again(collector: None) -> None:
    before = gc.get_freeze_count()
    warming._ready()
    assert science.is_here()
    assert gc.get_freeze_count() > before + 10_000
