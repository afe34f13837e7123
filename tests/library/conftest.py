"""A library on SQLite and, where a server is given, the same tests on PostgreSQL."""

import io
import os
import shutil
import uuid

import pytest
import sqlalchemy as sa
from examples import fill
from PIL import Image
from writers import PROCESSES

from colormatch.library import open_library

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


class Folders:
    """Places for libraries on SQLite; those with tables are copies of one, which is quicker than making them."""

    def __init__(self, folder):
        self.folder = folder
        self.prepared = folder / "prepared"

    def empty(self):
        return self.folder / uuid.uuid4().hex

    def with_tables(self):
        if not self.prepared.exists():
            open_library(self.prepared).close()
        return shutil.copytree(self.prepared, self.empty())

    def clear(self):
        pass

    def close(self):
        pass


class Server:
    """Places for libraries on a PostgreSQL server: a database each."""

    def __init__(self, url):
        self.url = sa.make_url(url)
        self.engine = sa.create_engine(url, isolation_level="AUTOCOMMIT")
        self.made = []
        self.prepared = None

    def empty(self, template="template1"):
        self.made.append(f"test_{uuid.uuid4().hex}")
        with self.engine.connect() as connection:
            connection.exec_driver_sql(f"CREATE DATABASE {self.made[-1]} TEMPLATE {template}")
        return self.url.set(database=self.made[-1]).render_as_string(hide_password=False)

    def with_tables(self):
        if self.prepared is None:
            place = self.empty()
            self.prepared = self.made.pop()
            open_library(place).close()
        return self.empty(self.prepared)

    def clear(self):
        with self.engine.connect() as connection:
            while self.made:
                connection.exec_driver_sql(f"DROP DATABASE {self.made.pop()} WITH (FORCE)")

    def close(self):
        self.made += [self.prepared] if self.prepared else []
        self.clear()
        self.engine.dispose()


@pytest.fixture(scope="session", params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def kind_of_database(request, tmp_path_factory):
    if request.param == "sqlite":
        made = Folders(tmp_path_factory.mktemp("libraries"))
    elif SERVER:
        made = Server(SERVER)
    else:
        pytest.skip("COLORMATCH_TEST_POSTGRES names no PostgreSQL server; `source .ci/postgres` starts one")
    yield made
    made.close()


@pytest.fixture
def places(kind_of_database):
    """Makes places for libraries on one of the two databases."""
    yield kind_of_database
    kind_of_database.clear()


@pytest.fixture
def database(places):
    """Gives a new place for a library, where nothing is yet, each time it is called."""
    return places.empty


@pytest.fixture
def library(places):
    """An empty library."""
    with open_library(places.with_tables()) as opened:
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
