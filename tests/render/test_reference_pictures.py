"""Pictures as they were looked at and kept. A change that is meant: `python tests/render/pictures.py`, and look."""

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

_spec = importlib.util.spec_from_file_location("kept_pictures", Path(__file__).parent / "pictures.py")
pictures = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(pictures)


@pytest.mark.parametrize("name", pictures.PICTURES)
def test_picture_is_as_it_was_kept(name):
    """Room for another version of the letters' renderer and of the processor's rounding, not for a moved line."""
    path = pictures.FOLDER / f"{name}.png"
    assert path.stat().st_size <= 30_000
    kept = np.asarray(Image.open(path), dtype=float)
    drawn = np.asarray(pictures.kept(pictures.PICTURES[name]()), dtype=float)
    assert drawn.shape == kept.shape
    apart = np.abs(drawn - kept).max(axis=2)
    assert apart.mean() < 1.0
    assert (apart > 40).mean() < 0.004


def test_the_comparison_can_fail():
    kept = np.asarray(Image.open(pictures.FOLDER / "cup-layered-dry.png"), dtype=float)
    other = pictures.piece_picture("cup", "layered", pictures.CLAY, pictures.ASH, share_two=0.3, seed=3, size=110)
    assert np.abs(np.asarray(other, dtype=float) - kept).max(axis=2).mean() > 1.0


def test_every_kept_picture_is_drawn():
    assert {path.stem for path in pictures.FOLDER.glob("*.png")} == set(pictures.PICTURES)
