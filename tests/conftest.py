"""A test that takes times with `benchmark` is one of speed: it runs alone, when asked for."""

import pytest


def pytest_collection_modifyitems(items):
    for item in items:
        if "benchmark" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.speed)
