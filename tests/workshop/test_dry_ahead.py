"""A shade seen wet, its recipe unknown: the dry shade, from the pieces of hers that were seen in both states."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pytest

from colormatch.library import Piece, ShadeRecord, TileRecord
from colormatch.shade import Shade
from colormatch.studio import studio_palette
from colormatch.workshop.dry_ahead import dry_ahead, seen_in_both
from colormatch.workshop.shelf import shelf

WET = Shade((40, 10, 14), sd=0.5)


def keep_pairs(library: Any, count: int) -> list[Piece]:
    """Pieces that all became 20 L* lighter, and nothing else."""
    pieces = [library.save(Piece(name=f"Piece {number}")) for number in range(count)]
    for number, piece in enumerate(pieces):
        for state, more in (("demould", 0.0), ("dry", 20.0)):
            lab = (30 + 4 * number + more, 2 + 2 * number, 20 - 2 * number)
            library.save(
                ShadeRecord.of(
                    Shade(lab, sd=0.4), piece_uid=piece.uid, state=state, provenance={"kind": "measured"}
                )
            )  # fmt: skip
    return pieces


def test_her_own_pieces_tell(studio: Any) -> None:
    keep_pairs(studio, 6)
    known = studio_palette(studio)
    found = dry_ahead(studio, known, WET, base=shelf(studio).cements[0].uid, state="demould")
    assert found.pairs == 6
    np.testing.assert_allclose(found.shade.lab, (60, 10, 14), atol=1.0)
    assert found.off < 2
    assert "6 pieces of yours" in found.words


def test_without_any_it_says_how_unsure_it_is(studio: Any) -> None:
    known = studio_palette(studio)
    found = dry_ahead(studio, known, WET, base=shelf(studio).cements[0].uid, state="demould")
    assert found.pairs == 0
    assert 4 < found.off < 8  # said of it without a source: about 5 dE00
    assert "Measure 4 pieces" in found.words


@pytest.mark.parametrize("state", ["demould", "wet"])
def test_a_pair_is_one_bowl_measured_in_both_states(studio: Any, state: str) -> None:
    tile = studio.save(TileRecord(cement_uid=shelf(studio).cements[0].uid))

    def measured(lightness: float, state: str, kind: str = "measured", **of: Any) -> None:
        studio.save(
            ShadeRecord.of(
                Shade((lightness, 0, 0), sd=1), state=state, provenance={"kind": kind, **of}, tile_uid=tile.uid
            )
        )

    measured(40, state)
    assert seen_in_both(studio, state) == []
    measured(60, "dry", kind="predicted")
    measured(61, "dry", bowl="2")
    assert seen_in_both(studio, state) == []
    measured(62, "dry")
    (pair,) = seen_in_both(studio, state)
    assert [float(each.lab[0]) for each in pair] == [40, 62]


def test_a_shade_measured_before_the_piece_was_dry_is_no_pair(studio: Any) -> None:
    (piece,) = keep_pairs(studio, 1)
    assert len(seen_in_both(studio, "demould")) == 1
    (dry,) = studio.list(ShadeRecord, piece_uid=piece.uid, state="dry")
    studio.save(replace(dry, measured_on=date(2026, 3, 1), final_from=date(2026, 3, 5)))
    assert seen_in_both(studio, "demould") == []
    later = ShadeRecord.of(
        Shade((61, 2, 20), sd=0.4), piece_uid=piece.uid, state="dry", provenance={"kind": "measured"}
    )
    studio.save(replace(later, measured_on=date(2026, 3, 9), final_from=date(2026, 3, 5)))
    ((_, last),) = seen_in_both(studio, "demould")
    assert float(last.lab[0]) == 61
