"""python -m tests.evaluation [quick | whole]: measure, and write the page of figures.

quick (about a quarter of an hour on two cores): the tests marked slow that keep figures. whole: also those marked
`measure`, hours on two cores.
"""

from __future__ import annotations

import platform
import subprocess
import sys
import tempfile
from datetime import date
from importlib.metadata import version
from pathlib import Path

from .figures import store, stored

ROOT = Path(__file__).resolve().parents[2]


def main(arguments: list[str]) -> int:
    """Run the tests that keep figures and write the page; the exit status is pytest's."""
    whole = arguments == ["whole"]
    if arguments not in ([], ["quick"], ["whole"]):
        sys.stderr.write(f"python -m tests.evaluation [quick | whole], not {' '.join(arguments)!r}\n")
        return 2
    chosen = "figures" if whole else "figures and not measure"
    with tempfile.TemporaryDirectory() as folder:
        kept = Path(folder) / "kept.json"
        command = [sys.executable, "-m", "pytest", "-q", "-m", chosen, f"--keep-figures={kept}", "tests"]
        status = subprocess.run(command, cwd=ROOT, check=False).returncode
        fresh = stored(kept)
    today = date.today().isoformat()
    measured = {key: each.measured_on(today) for key, each in fresh.items()}
    machine = f"{platform.system()} {platform.machine()}, Python {platform.python_version()}"
    store(stored() | measured, f"{machine}, colormatch {version('colormatch')}")
    return status


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
