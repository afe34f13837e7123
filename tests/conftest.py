"""For every test: what takes times runs alone when asked for, and what is measured is kept for the page of figures."""

import gc
import os
from pathlib import Path

import pytest
from hypothesis import settings

from tests.evaluation.figures import Figure, keep

# The matrices here are small, and the tests run two at once: read when numpy is first imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# A tenth of the time went into looking through all that was imported for cycles; measured.
gc.set_threshold(50_000, 20, 50)

settings.register_profile("no clock", settings(), deadline=None)  # what runs beside other work may be slow now and then
settings.load_profile("no clock")

FIGURES = pytest.StashKey[dict[str, Figure]]()


def pytest_addoption(parser):
    parser.addoption("--keep-figures", type=Path, metavar="FILE", help="write what the tests measured to this file")


def pytest_configure(config):
    config.stash[FIGURES] = {}


def pytest_collection_modifyitems(items):
    for item in items:
        if "benchmark" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.speed)
        if "figure" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.figures)


def pytest_sessionfinish(session):
    file = session.config.getoption("--keep-figures")
    if file is not None:
        keep(session.config.stash[FIGURES], file)


@pytest.fixture
def figure(request):
    """Keeps a measured number for the page of figures: figure(key, what, value, unit, target=, beside=)."""

    def kept(key, what, value, unit="", *, target="", beside=""):
        test = Path(request.node.path).relative_to(request.config.rootpath / "tests").as_posix()
        made = Figure(key, what, float(value), unit, target, beside, test)
        request.config.stash[FIGURES][key] = made
        return made

    return kept
