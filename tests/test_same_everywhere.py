"""The numbers of the main job are the same on one thread and two, whatever the hash seed, and on another Python."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("numbers_of_the_main_job.py")
# Another Python with this package installed in it, such as that of a virtual environment of a newer version.
OTHER = os.environ.get("COLORMATCH_OTHER_PYTHON", "")


def numbers(python=sys.executable, threads=1, seed=0):
    ways = {"OPENBLAS_NUM_THREADS": str(threads), "OMP_NUM_THREADS": str(threads), "PYTHONHASHSEED": str(seed)}
    ran = subprocess.run([python, SCRIPT], env=os.environ | ways, capture_output=True, text=True, check=True)
    return json.loads(ran.stdout)


def assert_same(found, wanted):
    assert found.keys() == wanted.keys()
    for name, values in wanted.items():
        assert found[name] == pytest.approx(values, rel=1e-9, abs=1e-9), name


@pytest.mark.slow
def test_on_other_threads_and_with_another_hash_seed():
    assert_same(numbers(threads=2, seed=1), numbers())


@pytest.mark.slow
@pytest.mark.skipif(not OTHER, reason="COLORMATCH_OTHER_PYTHON names no other Python that has this package")
def test_on_another_python():
    assert_same(numbers(OTHER), numbers())
