"""A tray of one recipe, weighed, cast and dried, as the tests of pieces need it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np

from colormatch import Shade
from colormatch.bench.batch import Tone
from colormatch.library import (
    DryingWeight,
)
from colormatch.loads import Mix
from colormatch.studio import studio_palette
from colormatch.workshop.casting import Circumstances, cast
from colormatch.workshop.pieces import (
    demould,
)
from colormatch.workshop.plans import Casting, castings, keep_plan, plan
from colormatch.workshop.weighing import begin_bowl, put_sure, settle, slip_of, zeroed

RUST = Mix.of("white-quick", {"brick-red": 0.0103, "ochre": 0.008})
NOW = datetime.now(UTC)


def follow(library, weighing, factor=None):
    """Everything as asked for; factor: material -> times what is asked."""
    while not weighing.state.done:
        step = weighing.step
        if step.kind == "zero":
            weighing = zeroed(library, weighing)
            continue
        times = (factor or {}).get(step.material, 1.0)
        weighing = put_sure(library, weighing, round(step.grams * times, 1))
        if weighing.state.over:
            answer = slip_of(studio_palette(library), weighing)
            weighing = settle(library, weighing, answer, correct=False)
    return weighing


def cast_rust(library, knowledge, *, days_ago=0.0, factor=None, mix=RUST, **said):
    casting = next((each for each in castings(library) if each.title == "Rust tray"), None)
    casting = casting or Casting("Rust tray", (Tone("Rust", mix),), wanted=Shade((60, 14, 18), sd=0.7))
    batch = keep_plan(library, knowledge, plan(library, knowledge, casting))
    follow(library, begin_bowl(library, batch), factor)
    (piece,) = cast(library, batch, circumstances=Circumstances(**said), at=NOW - timedelta(days=days_ago))
    return piece


def dried(library, piece, days=12, tau=1.5):
    """Its weights once a day until it is dry."""
    out = demould(library, piece, at=piece.cast_at + timedelta(hours=5))
    for day in range(days):
        at = out.demoulded_at + timedelta(days=day)
        library.save(
            DryingWeight(batch_uid=piece.batch_uid, piece_uid=piece.uid, piece=piece.name, weighed_at=at,
                         mass_g=round(380 + 18 * float(np.exp(-day / tau)), 1))
        )  # fmt: skip
    return out
