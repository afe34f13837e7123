"""A small studio of one's own: a bag, three jars, a mould."""

import pytest

from colormatch.library import open_library
from colormatch.studio import studio_palette
from colormatch.workshop.materials import add_bag, add_jar, add_mould


@pytest.fixture
def library(tmp_path):
    with open_library(tmp_path / "studio") as opened:
        yield opened


@pytest.fixture
def studio(library):
    add_bag(library, "White, quick", kind="quick-setting", like="white-cement", stock_g=20_000, price_per_kg=1.2)
    add_jar(library, "Brick red", like="red-iron-oxide", stock_g=500, price_per_kg=9.0)
    add_jar(library, "Ochre", like="yellow-iron-oxide", stock_g=400)
    add_jar(library, "Soot", like="black-iron-oxide")
    add_mould(library, "Tray", fill_weight_g=400)
    return library


@pytest.fixture
def knowledge(studio):
    return studio_palette(studio)
