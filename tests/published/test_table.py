"""The table of published checks is that of the markers, and names what exists."""

from importlib import import_module

import pytest

import colormatch as cm
from tests.published.table import README, checks, with_table


def test_the_table_is_up_to_date():
    text = README.read_text(encoding="utf-8")
    assert text == with_table(text), "run: python -m tests.published.table"


@pytest.mark.parametrize("name", sorted({name for _, _, names in checks() for name in names}))
def test_what_is_covered_exists(name):
    module, _, function = name.rpartition(".")
    assert callable(getattr(import_module(f"colormatch.{module}") if module else cm, function))
