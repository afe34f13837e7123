"""Follow simulated pieces day by day and count what was promised against what was true."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from colormatch.bench.drying import follow_drying

from .drying_worlds import REMAINDER, STEP_G, DryingPiece, draw_piece


def loss_rule(days, grams, share=0.001):
    """The rule of thumb of the trade, to compare with: first day whose loss per 24 h is under `share` of the mass."""
    t, y = np.asarray(days, dtype=float), np.asarray(grams, dtype=float)
    calm = np.flatnonzero(-np.diff(y) / np.diff(t) < share * y[1:])
    return float(t[calm[0] + 1]) if calm.size else None


@dataclass
class Tally:
    """Of many pieces: was the seal day in its band (by law), was "seal" said too soon, how late."""

    held: dict[str, list[bool]] = field(default_factory=dict)
    held_when_told: list[bool] = field(default_factory=list)
    held_when_not: list[bool] = field(default_factory=list)
    too_soon: list[bool] = field(default_factory=list)
    days_late: list[float] = field(default_factory=list)
    plain_too_soon: list[bool] = field(default_factory=list)
    outliers_named: int = 0
    looks: int = 0
    never: int = 0

    @property
    def all_held(self) -> list[bool]:
        return [each for group in self.held.values() for each in group]


def run_trial(pieces: int, seed: int, looks: int = 10) -> Tally:
    """Weigh each piece daily, look about `looks` times on the way, and every day once it is close."""
    tally = Tally()
    for number in range(pieces):
        rng = np.random.default_rng([seed, number])
        piece = draw_piece(rng)
        days = np.arange(0.0, min(piece.seal_day() * 1.6 + 8, 140))
        _follow(piece, days, piece.weigh(days, rng), max(1, len(days) // looks), tally)
    return tally


def _follow(piece: DryingPiece, days: np.ndarray, grams: np.ndarray, stride: int, tally: Tally) -> None:
    truth, said = piece.seal_day(), None
    for count in range(4, len(days) + 1):
        counted = (count - 4) % stride == 0
        close = said is None and days[count - 1] >= 0.75 * truth
        if not counted and not close:
            continue
        drying = follow_drying(days[:count], grams[:count], scale_step_g=STEP_G, remainder=REMAINDER)
        if drying.verdict == "seal" and said is None:
            said = float(days[count - 1])
        if counted:
            held = bool(drying.seal_day[0] <= truth <= drying.seal_day[2])
            tally.looks += 1
            tally.outliers_named += bool(drying.outliers)
            tally.held.setdefault(piece.law, []).append(held)
            (tally.held_when_not if drying.verdict == "cannot tell" else tally.held_when_told).append(held)
    if said is None:
        tally.never += 1
    else:
        tally.too_soon.append(said < truth)
        tally.days_late.append(said - truth)
    plain = loss_rule(days, grams)
    if plain is not None:
        tally.plain_too_soon.append(plain < truth)
