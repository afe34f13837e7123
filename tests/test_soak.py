"""Two thousand jobs in a row, each from a photograph to a kept swatch: memory and open files stay flat."""

import io
import os
import sys
from pathlib import Path

import pytest
from PIL import Image

import colormatch as cm
from colormatch.library import RecipeRecord, ShadeRecord, Swatch, open_library
from colormatch.library.demo import TODAY, open_demo
from colormatch.studio import prior_palette, studio_tiles

PHOTOGRAPHS = Path(__file__).resolve().parents[1] / "swatches" / "photographs"
JOBS, WARM = 2000, 200


def megabytes():
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def open_files():
    return len(list(Path("/proc/self/fd").iterdir()))


def small_saucer():
    with Image.open(next(PHOTOGRAPHS.glob("be3e8d16*.jpg"))) as picture:
        stream = io.BytesIO()
        picture.resize((picture.width // 2, picture.height // 2)).save(stream, "JPEG", quality=95)
    return stream.getvalue()


def one_job(library, prior, tiles, photograph, number):
    shade = cm.measure_photo(photograph, region=(528, 244, 632, 348)).shade
    palette, _ = cm.learn(prior, tiles)
    recipe = cm.find_recipes(palette, shade, base="white-cement")[0]
    kept = library.save(RecipeRecord(name=f"job {number}", cement_uid="white-cement", loads=dict(recipe.loads)))
    swatch = library.save(Swatch(name=f"job {number}", recipe_uid=kept.uid))
    library.save(ShadeRecord(swatch_uid=swatch.uid, lab=tuple(shade.lab)))


@pytest.mark.measure
@pytest.mark.timeout(7200)
@pytest.mark.skipif(sys.platform != "linux", reason="counts pages and handles in /proc")
def test_two_thousand_jobs(tmp_path, figure):
    with open_demo(tmp_path / "demo", today=TODAY) as library:
        prior, tiles, photograph = prior_palette(library), studio_tiles(library)[:12], small_saucer()
        for number in range(JOBS):
            one_job(library, prior, tiles, photograph, number)
            if number == WARM:
                before, files = megabytes(), open_files()
        grown = megabytes() - before
    with open_library(tmp_path / "demo") as library:
        assert library.check() == []
    figure(
        "trust.soak", f"memory grown over {JOBS - WARM} jobs, photograph to kept swatch", grown, "MB", target="<= 50"
    )
    assert open_files() <= files
    assert grown <= 50
