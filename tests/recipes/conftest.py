import pytest

import colormatch as cm

from .palettes import varied_palette


@pytest.fixture(scope="session")
def palette():
    return cm.starter_palette()


@pytest.fixture(scope="session")
def twelve():
    return varied_palette(12)
