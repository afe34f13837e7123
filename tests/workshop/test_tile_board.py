"""The board of own tiles is kept with its shades and comes back as a reference."""

import numpy as np
import pytest

from colormatch.errors import InputError
from colormatch.library import open_library
from colormatch.shade import Shade
from colormatch.workshop.tile_board import keep_board, own_board


def test_a_board_is_kept_and_measured_again(tmp_path):
    shades = [Shade((50 + i, i, -i), sd=0.5) for i in range(11)] + [None]
    with open_library(tmp_path / "library.db") as library:
        assert own_board(library) is None
        keep_board(library, shades)
        again = [None, *shades[:-1]]
        keep_board(library, again)
        board = own_board(library)
    assert board is not None
    assert board.shades == again
    assert np.allclose(board.shades[3].covariance, 0.25 * np.eye(3))


def test_a_board_with_too_few_tiles_is_refused(tmp_path):
    with open_library(tmp_path / "library.db") as library, pytest.raises(InputError, match="6 tiles or more"):
        keep_board(library, [Shade((50, 0, 0))] * 3 + [None] * 9)
