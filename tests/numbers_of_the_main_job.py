"""python tests/numbers_of_the_main_job.py: photograph, learning, recipes and their states on the demo studio, as JSON.

Run under other threads, hash seeds and versions of Python by test_same_everywhere.py.
"""

import json
import sys
import tempfile
from pathlib import Path

import colormatch as cm
from colormatch.library.demo import TODAY, open_demo
from colormatch.studio import learn_studio

PHOTOGRAPHS = Path(__file__).resolve().parents[1] / "swatches" / "photographs"
SAUCER, REGION = "be3e8d16*.jpg", (1055, 487, 1265, 697)


def main() -> None:
    """Print every number, name by name."""
    with tempfile.TemporaryDirectory() as folder, open_demo(Path(folder) / "demo", today=TODAY) as library:
        palette, _ = learn_studio(library, keep=False)
    shade = cm.measure_photo(next(PHOTOGRAPHS.glob(SAUCER)), region=REGION).shade
    found = {
        "learned": palette.mean.tolist(),
        "sd": palette.covariance.diagonal().tolist(),
        "measured": list(shade.lab),
    }
    for target in (shade, cm.Shade((52, 18, 20)), cm.Shade((40, 50, -40))):
        for recipe in cm.find_recipes(palette, target, base="white-cement"):
            name = f"for L* {target.lab[0]:.3f}: {', '.join(sorted(recipe.loads))}"
            found[name] = [*(recipe.loads[each] for each in sorted(recipe.loads)), *recipe.predict("demould").lab]
    json.dump(found, sys.stdout)


if __name__ == "__main__":
    main()
