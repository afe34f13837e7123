"""How long a maker waits before anything happens: whole processes, against a bare interpreter.

Run with: python -m pytest tests/benchmarks --benchmark-only -s
"""

import subprocess
import sys
from pathlib import Path

import pytest

COMMANDS = {
    "baseline-python": [sys.executable, "-c", "pass"],
    "import-colormatch": [sys.executable, "-c", "import colormatch"],
    "starter-palette": [sys.executable, "-c", "import colormatch as cm; cm.starter_palette()"],
    "help": [str(Path(sys.executable).with_name("colormatch")), "--help"],
}


@pytest.mark.parametrize("name", COMMANDS)
def test_startup(benchmark, name):
    benchmark.group = "start-up"
    benchmark.pedantic(
        subprocess.run, args=(COMMANDS[name],), kwargs={"check": True, "stdout": subprocess.DEVNULL}, rounds=5
    )
