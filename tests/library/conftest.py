"""A library on SQLite and, where a server is given, the same tests on PostgreSQL."""

import io
import multiprocessing
import os
import uuid

import pytest
import sqlalchemy as sa
from examples import fill
from PIL import Image

from colormatch.library import open_library

# Other processes are forked from one that has imported these already: a new one then takes milliseconds.
PROCESSES = multiprocessing.get_context("forkserver")
PROCESSES.set_forkserver_preload(["colormatch.library", "alembic.command", "PIL.PngImagePlugin"])

SERVER = os.environ.get("COLORMATCH_TEST_POSTGRES")


@pytest.fixture
def processes():
    """Runs a function of writers.py in several processes at once and waits: each must end well."""

    def run(target, arguments):
        started = [PROCESSES.Process(target=target, args=each) for each in arguments]
        for process in started:
            process.start()
        for process in started:
            process.join()
        assert [process.exitcode for process in started] == [0] * len(started)

    return run


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def database(request, tmp_path):
    """Makes places for libraries of one of the two databases: a function that gives a new place each time."""
    if request.param == "sqlite":
        yield lambda: tmp_path / uuid.uuid4().hex
        return
    if not SERVER:
        pytest.skip("COLORMATCH_TEST_POSTGRES names no PostgreSQL server; `source .ci/postgres` starts one")
    engine = sa.create_engine(SERVER, isolation_level="AUTOCOMMIT")
    made = []

    def place():
        made.append(f"test_{uuid.uuid4().hex}")
        with engine.connect() as connection:
            connection.exec_driver_sql(f"CREATE DATABASE {made[-1]}")
        return sa.make_url(SERVER).set(database=made[-1]).render_as_string(hide_password=False)

    yield place
    with engine.connect() as connection:
        for name in made:
            connection.exec_driver_sql(f"DROP DATABASE {name} WITH (FORCE)")
    engine.dispose()


@pytest.fixture
def library(database):
    with open_library(database()) as opened:
        yield opened


@pytest.fixture
def full(library):
    """A library with something of every kind."""
    fill(library)
    return library


@pytest.fixture
def sqlite_library(tmp_path):
    with open_library(tmp_path / "library") as opened:
        yield opened


@pytest.fixture
def jpeg():
    """Makes a small real photograph, a different one for each number."""

    def make(number=0, form="JPEG", size=(24, 16)):
        out = io.BytesIO()
        Image.new("RGB", size, (number % 256, number // 256 % 256, 90)).save(out, form)
        return out.getvalue()

    return make
