"""The whole job on the invented demo studio: photograph to recipe, then the recipe really cast in its world.

2.5 CIEDE2000 is what the project asks of the demo. The world that casts the recipe is the one the demo's tiles
came from (`tests/worlds/casting.py`); its optics are not the package's model.
"""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

from colormatch.cli.demonstration import chosen_target, demo_limits, demo_targets, measured
from colormatch.difference import delta_e_2000
from colormatch.errors import InputError
from colormatch.library import Library, Record, Studio, demo_folder, import_library, open_library
from colormatch.palette import Palette
from colormatch.recipes import Recipe, find_recipes
from colormatch.studio import studio_palette
from tests.worlds.casting import World

ROOT = Path(__file__).resolve().parents[1]
WORLD_SEED = 2026  # of .builders/demo_tiles.py
NEAR_ENOUGH = 2.5
IN_REACH, OUT_OF_REACH = (1, 2, 3, 4), 5


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    with open_library(tmp_path_factory.mktemp("demo")) as opened:
        import_library(opened, demo_folder())
        yield opened


@pytest.fixture(scope="module")
def palette(library: Library) -> Palette:
    return studio_palette(library)


def recipe_for(library: Library, palette: Palette, number: int) -> Recipe:
    target = chosen_target(library, number)
    limits = demo_limits(library.get(Studio, "studio"))
    return find_recipes(palette, measured(target).shade, base=target.base, limits=limits)[0]


@pytest.mark.slow
def test_demo_runs_from_an_empty_folder_and_says_how_near_it_came(tmp_path: Path) -> None:
    command = [sys.executable, "-c", "from colormatch.cli import main; main()", "demo", "--card", "card.png"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stderr
    assert "invented" in done.stdout.splitlines()[0]
    differences = [float(number) for number in re.findall(r"dE00 ([\d.]+)  its predicted shade to", done.stdout)]
    assert len(differences) == 2
    assert max(differences) <= NEAR_ENOUGH
    for wanted in ("Truth", "Measured to truth", "wet ", "dry ", "sealed ", "Caution"):
        assert wanted in done.stdout
    assert [path.name for path in tmp_path.iterdir()] == ["card.png"]
    with Image.open(tmp_path / "card.png") as card:
        assert min(card.size) > 300


@pytest.mark.parametrize("number", IN_REACH)
def test_first_recipe_cast_in_the_demo_world_is_near_the_truth(number: int, library: Library, palette: Palette) -> None:
    target, recipe = chosen_target(library, number), recipe_for(library, palette, number)
    cast = World(WORLD_SEED).lab(recipe.loads, recipe.base)
    off = float(delta_e_2000(cast, target.truth.shade().lab))
    print(f"{target.swatch.name}: cast {cast.round(1)}, dE00 {off:.2f}, expected {recipe.expected_delta_e:.2f}")  # noqa: T201 - the numbers are the point
    assert recipe.in_reach
    assert off <= NEAR_ENOUGH


@pytest.fixture
def tiles_of_another_world(monkeypatch):
    """The demo's shelf, tiles and pieces cast in the world of another seed, as records."""
    for folder in (ROOT, ROOT / ".builders"):
        monkeypatch.syspath_prepend(str(folder))
    import demo_pieces
    import demo_shelf
    import demo_tiles

    def cast(seed: int) -> list[Record]:
        monkeypatch.setattr(demo_tiles, "WORLD_SEED", seed)
        demo_tiles.world.cache_clear()
        return [*demo_shelf.shelf(), *demo_tiles.tiles(), *demo_pieces.pieces()]

    yield cast
    demo_tiles.world.cache_clear()


@pytest.mark.slow
@pytest.mark.parametrize("seed", [100, 106, 109])
def test_other_worlds_do_as_well(seed: int, library: Library, tiles_of_another_world, tmp_path: Path, figure) -> None:
    """The demo's world is not a lucky one. 106 and 109 are the hardest of twelve that were tried."""
    with open_library(tmp_path) as other:
        other.save_all(tiles_of_another_world(seed))
        palette = studio_palette(other)
    off, reached = [], []
    for number in IN_REACH:
        target, recipe = chosen_target(library, number), recipe_for(library, palette, number)
        off.append(float(delta_e_2000(World(seed).lab(recipe.loads, recipe.base), target.truth.shade().lab)))
        reached.append(recipe.in_reach)
    print(f"world {seed}: dE00 {[round(each, 2) for each in off]}, in reach {reached}")  # noqa: T201 - the point
    there = [each for each, within in zip(off, reached, strict=True) if within]
    what = f"photograph to cast piece, world {seed}, what the jars reach"
    figure(f"job.world-{seed}.mean", f"{what}: mean", sum(there) / len(there), "dE00")
    figure(f"job.world-{seed}.worst", f"{what}: worst", max(there), "dE00")
    assert sum(reached) >= 2
    assert max(each for each, there in zip(off, reached, strict=True) if there) <= NEAR_ENOUGH


def test_vivid_target_is_said_to_be_out_of_reach(library: Library, palette: Palette) -> None:
    recipe = recipe_for(library, palette, OUT_OF_REACH)
    assert not recipe.in_reach
    assert recipe.delta_e > 5


@pytest.mark.parametrize("number", [0, 99])
def test_unknown_target_lists_the_known_ones(number: int, library: Library) -> None:
    with pytest.raises(InputError, match=demo_targets(library)[0].name):
        chosen_target(library, number)


@pytest.mark.slow
def test_card_that_cannot_be_written_is_one_sentence_and_status_2(tmp_path: Path) -> None:
    command = [sys.executable, "-c", "from colormatch.cli import main; main()", "demo", "--card", "nowhere/card.png"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=100, check=False)
    assert done.returncode == 2
    assert "nowhere" in done.stderr
    assert "Traceback" not in done.stderr
