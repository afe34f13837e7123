"""What runs through the cement: seeded noise, the patterns of two tones, grain and pores.

Everything is a function of the position in the solid, so a pattern goes round a corner or down into
a cavity as it would in a real cast. Positions are (3, m), single precision.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .forms import Floats, Slab, Vessel, inside_points

_VOLUME_POINTS = 24000  # a share of the volume is known to 0.3 % from them
_TABLE = 4096  # flakes before they repeat; a power of two
# Frequencies, depths and shares of the patterns below are by eye, after cast cement.
_TURN = np.linalg.qr(np.random.default_rng(5).standard_normal((3, 3)))[0].astype(np.float32)


def waves(position: Floats, frequency: float, seed: int, count: int = 6) -> Floats:
    """Smooth noise (m,), mean 0, sd about 1: a sum of plane waves in random directions."""
    rng = np.random.default_rng([seed, int(frequency * 1000)])
    directions = rng.standard_normal((count, 3))
    directions *= frequency * rng.uniform(0.6, 1.4, (count, 1)) / np.linalg.norm(directions, axis=1)[:, None]
    phases = rng.uniform(0, 2 * np.pi, count)
    total = np.zeros(position.shape[1], dtype=np.float32)
    for direction, phase in zip(directions.astype(np.float32), phases, strict=True):
        total += np.cos(direction @ position + np.float32(phase))
    return total * np.float32(np.sqrt(2 / count))


def grains(position: Floats, frequency: float, seed: int, *, least: float = 0.18, most: float = 0.5) -> Floats:
    """Distance (m,) from the cell's own grain, in radii: below 1 inside. One grain per cell of a lattice.

    least, most: the grains' radii in cells; a grain of 0.5 just fills its cell.
    """
    scaled = position * np.float32(frequency)
    cell = np.floor(scaled)
    i, j, k = cell.astype(np.int32)
    slot = (i * 73856093 ^ j * 19349663 ^ k * 83492791) & (_TABLE - 1)
    rng = np.random.default_rng([seed, int(frequency * 1000), 7])
    radius = (least + (most - least) * rng.uniform(0, 1, _TABLE) ** 2).astype(np.float32)
    centre = (radius + rng.uniform(0, 1, (3, _TABLE)) * (1 - 2 * radius)).astype(np.float32)
    scaled -= cell
    squared = np.zeros(position.shape[1], np.float32)
    for axis in range(3):
        squared += np.square(scaled[axis] - centre[axis][slot])
    return np.asarray(np.sqrt(squared) / radius[slot], dtype=np.float32)


def share_of_second(form: Vessel | Slab, pattern: str, position: Floats, share: float, seed: int) -> Floats:
    """(m,) how much of the second tone shows at each position, 0..1.

    The boundary is put where the second tone has just `share` of the volume of the solid.
    """
    field, softness = _FIELDS[pattern]
    body = field(form, inside_points(form, _VOLUME_POINTS, seed), seed)
    threshold, scale = np.quantile(body, share), softness * float(body.std())
    here = (np.float32(threshold) - field(form, position, seed)) / np.float32(scale)
    here = np.clip(here + np.float32(0.5), 0, 1)
    return np.asarray(here * here * (3 - 2 * here), dtype=np.float32)


def _layered(form: Vessel | Slab, position: Floats, seed: int) -> Floats:
    unevenness = np.float32(0.02 * min(1.0, form.height / 0.6))
    return np.asarray(unevenness * waves(position, 7.0, seed) - position[2], np.float32)


def _dipped(form: Vessel | Slab, position: Floats, seed: int) -> Floats:
    x, y, z = position
    # A tall piece is dipped at its foot, held a little askew; a flat one at the side towards the eye.
    upright = np.float32(np.clip((form.height - 0.15) / 0.6, 0.12, 1))
    askew = np.float32(0.25) * x + (1 - upright) * (y + np.float32(0.3) * x)
    return np.asarray(upright * z + askew + np.float32(0.004) * waves(position, 9.0, seed), np.float32)


def _split(form: Vessel | Slab, position: Floats, seed: int) -> Floats:
    return np.asarray(-position[0] + np.float32(0.02) * waves(position, 5.0, seed), np.float32)


def _swirled(form: Vessel | Slab, position: Floats, seed: int) -> Floats:
    x, y, z = position
    bend = waves(position, 3.2, seed)
    turn = np.float32(2.4) * np.hypot(x, y) + np.float32(2.2) * z + np.float32(0.55) * bend
    along = np.cos(turn) * x + np.sin(turn) * y + np.float32(0.5) * z
    bands = np.sin(np.float32(11.0) * along + np.float32(1.6) * bend)
    return np.asarray(bands + np.float32(0.3) * waves(position, 9.0, seed + 1), np.float32)


def _speckled(form: Vessel | Slab, position: Floats, seed: int) -> Floats:
    bent = position + np.float32(0.012) * np.stack([waves(position, 40.0, seed + i, 3) for i in (2, 3, 4)])
    bent = _TURN @ bent
    coarse = grains(bent, 9.0, seed)
    fine = grains(bent + np.float32(0.37), 15.0, seed + 1)
    return np.asarray(np.minimum(coarse, fine * np.float32(1.15)))


_FIELDS: dict[str, tuple[Callable[[Vessel | Slab, Floats, int], Floats], float]] = {
    "layered": (_layered, 0.05),
    "dipped": (_dipped, 0.03),
    "swirled": (_swirled, 0.35),
    "speckled": (_speckled, 0.12),
    "split": (_split, 0.03),
}
PATTERNS = tuple(_FIELDS)


def relief(position: Floats, seed: int) -> tuple[Floats, Floats]:
    """Light and dark of the cement itself, factors (m,): its mottle and grain, and its pores."""
    mottle = 1 + np.float32(0.022) * waves(position, 6.0, seed + 11, 4)
    mottle += np.float32(0.012) * waves(position, 23.0, seed + 12, 4)
    mottle += np.float32(0.02) * np.random.default_rng([seed, 13]).standard_normal(position.shape[1], dtype=np.float32)
    # Air bubbles at the mould's face, small ones for the most part; turned so that no row of cells shows.
    turned = _TURN @ position
    depth = grains(turned, 15.0, seed + 14, least=0.04, most=0.2)
    pores = 1 - np.float32(0.45) * np.clip((1 - depth) * 4, 0, 1)
    return mottle, pores
