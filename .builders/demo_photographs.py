"""The demo studio's photographs: invented things on a bench with a 24-patch chart and a grey card.

Every picture is made from spectra, so the true shade of what is in it is known exactly: it is worked out
from the very reflectance that was painted, and from nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date

import numpy as np
from demo_relief import Array, Bench, Mask, Shot, photograph
from scipy.ndimage import distance_transform_edt, gaussian_filter

from colormatch.colorimetry import reflectance_to_lab
from colormatch.spectra import WAVELENGTHS_NM
from tests.worlds.scenes import GREY_18, chart24, chart_corners, rectangle

SIZE = (1600, 1200)
CHART_CENTRE, CHART_WIDTH = (452.0, 396.0), 640.0
CARD = (196.0, 806.0, 476.0, 1006.0)
Region = tuple[int, int, int, int]


@dataclass(frozen=True)
class Picture:
    """A photograph and what is true of it; regions in pixels, by name."""

    name: str
    title: str
    content: bytes = field(repr=False)
    regions: Mapping[str, Region]
    lab: Mapping[str, tuple[float, float, float]]
    chart_corners: list[list[float]]
    grey_card: list[float]
    notes: str
    taken_on: date


def edge(low: float, high: float, at_nm: float, width_nm: float) -> Array:
    """A reflectance that rises from low to high about a wavelength."""
    return np.asarray(low + (high - low) / (1 + np.exp(-(WAVELENGTHS_NM - at_nm) / width_nm)))


def bump(height: float, at_nm: float, width_nm: float) -> Array:
    """A hump (or, negative, a dip) of a reflectance."""
    return np.asarray(height * np.exp(-(((WAVELENGTHS_NM - at_nm) / width_nm) ** 2)))


PAPER = 0.50 - 0.02 * np.linspace(1, 0, 31)
BOARD = edge(0.16, 0.46, 560, 70)
BISQUE = edge(0.147, 0.365, 570, 32)
LEAF = edge(0.20, 0.30, 500, 26) + bump(0.055, 545, 36) - bump(0.055, 668, 26)
CLOTH = 0.25 + bump(0.060, 470, 55) - bump(0.045, 630, 55) + edge(0, 0.03, 690, 8)
GLAZE = edge(0.075, 0.20, 575, 38) + bump(0.012, 420, 30)
ENAMEL = edge(0.085, 0.60, 598, 14) + bump(0.03, 440, 40)


# --- the bench ----------------------------------------------------------------------------------------


def set_table(seed: int, turn: float) -> tuple[Bench, Array]:
    """A wooden board with a grey sheet on it, the chart and the grey card; the chart's corners (4, 2)."""
    bench = Bench(SIZE, BOARD, seed)
    x, y = bench.around(0, 0)
    plank = np.floor((y + 40) / 246)
    rings = np.sin((y + 14 * np.sin(x / 310 + 2.3 * plank) + 40 * plank**2) / 5.5 + bench.grain((3, 60), 1.1))
    groove = np.abs((y + 40) % 246 - 1.5) < 2.5
    bench.texture *= (1 + 0.05 * rings + bench.grain((1.2, 22), 0.035) + 0.05 * np.sin(9 * plank)) * np.where(
        groove, 0.45, 1
    )
    sheet = rectangle(62, 58, 1552, 1146)
    bench.put(bench.inside(sheet), PAPER, 1.0, texture=1 + bench.grain(2.0, 0.004))
    corners = chart_corners(CHART_CENTRE, CHART_WIDTH, turn=turn)
    frame, *patches = chart24(corners)
    bench.put(bench.inside(frame.outline), frame.reflectance, 7.0)
    for patch in patches:
        bench.put(bench.inside(patch.outline), patch.reflectance, 7.0)
    bench.put(bench.inside(rectangle(*CARD)), GREY_18, 4.0, texture=1 + bench.grain(1.0, 0.004))
    _pencil(bench, 640.0, 1068.0)
    return bench, corners


def _pencil(bench: Bench, x: float, y: float) -> None:
    """The pencil that wrote the weigh sheet, to show the size of things."""
    u, v = bench.around(x, y, -3)
    round_rod = 13.0 * np.sqrt(np.clip(1 - (v / 13.5) ** 2, 0, 1))
    taper = np.abs(v) < 13 * np.clip((u + 250) / 46, 0, 1)
    facets = 1 + 0.06 * np.sign(np.sin(v / 2.9))
    bench.put(taper & (u < 250), edge(0.22, 0.62, 560, 40), round_rod, texture=1 + bench.grain((0.8, 9), 0.03))
    bench.put(
        taper & (u > -200) & (u < 250), edge(0.05, 0.09, 600, 30) + bump(0.16, 480, 45), round_rod, texture=facets
    )
    bench.put(taper & (u < -238), np.full(31, 0.06), round_rod)


def saucer(bench: Bench, x: float, y: float) -> dict[str, Region]:
    """A small saucer of bisque clay: flat floor, raised rim."""
    u, v = bench.around(x, y)
    r = np.hypot(u, v)
    height = 8 + 34 * np.exp(-(((r - 262) / 24) ** 2)) * (r > 200) + 0.08 * np.sin(r / 3.1)
    rings = 1 + 0.012 * np.sin(r / 4.2) + bench.grain(0.9, 0.012) + bench.grain(6.0, 0.008)
    bench.put(r < 286, BISQUE, height, texture=_level(rings, r < 286))
    return {"saucer": box(x, y, 105)}


def leaf(bench: Bench, x: float, y: float) -> dict[str, Region]:
    """A broad sage leaf, pebbled, with a midrib and side veins."""
    u, v = bench.around(x, y, -58)
    half = 178 * np.clip(1 - (u / 372) ** 2, 0, 1) ** 0.75 * (1 + 0.22 * u / 372)
    ragged = half + 2.2 * np.sin(u / 7.5)
    blade = (np.abs(v) < ragged) & (np.abs(u) < 372)
    stalk = (np.abs(v - 0.0004 * (u + 372) ** 2) < 9) & (u > -520) & (u < -350)
    side = np.abs((u - 0.75 * np.abs(v)) % 66 - 33)
    vein = np.maximum(np.exp(-((v / 6) ** 2)), 0.7 * np.exp(-((side / 3.2) ** 2)))
    pebbles = gaussian_filter(bench.rng.standard_normal(u.shape), 5.0) * 5.0
    height = 9 + 0.0022 * v**2 * 0.3 - 2.0 * vein + 0.55 * pebbles
    down = 1 + 0.07 * vein + bench.grain(1.2, 0.02)
    bench.put(stalk, LEAF * 1.15, 7.0, texture=1 + bench.grain(1.5, 0.03))
    bench.put(blade, LEAF, height, texture=_level(down, blade))
    return {"leaf": box(x + 8, y - 4, 88)}


def cloth(bench: Bench, x: float, y: float) -> dict[str, Region]:
    """A swatch of woven cloth with a pinked edge."""
    u, v = bench.around(x, y, 9)
    zigzag = 9 * (2 * np.abs((u / 30) % 1 - 0.5))
    zagzig = 9 * (2 * np.abs((v / 30) % 1 - 0.5))
    piece = (np.abs(v) < 262 - zigzag) & (np.abs(u) < 250 - zagzig)
    weave = np.sin(u * 2 * np.pi / 7) * np.sin(v * 2 * np.pi / 7)
    slub = bench.grain((0.6, 14), 0.012) + bench.grain((14, 0.6), 0.012)
    height = 4.5 + gaussian_filter(bench.rng.standard_normal(u.shape), 60) * 160
    bench.put(piece, CLOTH, height, texture=_level(1 + 0.018 * weave + slub, piece))
    return {"cloth": box(x, y, 110)}


def glazed_tile(bench: Bench, x: float, y: float) -> dict[str, Region]:
    """A glazed tile with a rounded edge, on which the lamp glints."""
    u, v = bench.around(x, y, -6)
    piece = np.maximum(np.abs(u), np.abs(v)) < 252
    depth = distance_transform_edt(piece)
    height = gaussian_filter(20 - 14 * np.clip(1 - depth / 26, 0, 1) ** 2, 2.5) + bench.grain(30, 0.35)
    pooling = 1 + bench.grain(14, 0.016) + 0.05 * np.exp(-(((depth - 20) / 9) ** 2))
    bench.put(piece, GLAZE, height, texture=_level(pooling, depth > 40), gloss=1.0)
    return {"tile": box(x, y, 120)}


def enamel_lid(bench: Bench, x: float, y: float) -> dict[str, Region]:
    """A vivid enamel lid with a knob in the middle: no dry pigment in cement gets there."""
    u, v = bench.around(x, y)
    r = np.hypot(u, v)
    lid = r < 268
    height = 26 * np.clip((268 - r) / 20, 0, 1) ** 0.5 + 10 * np.clip((120 - r) / 25, 0, 1)
    bench.put(lid, ENAMEL, height, gloss=0.9)
    rim = lid & (r > 256)
    bench.put(rim, np.full(31, 0.06), height, gloss=0.5)
    knob = r < 52
    bench.put(knob, np.full(31, 0.05), 40 + 40 * np.sqrt(np.clip(1 - (r / 53) ** 2, 0, 1)), gloss=1.0)
    return {"lid": (round(x) - 90, round(y) + 148, round(x) + 90, round(y) + 224)}


def cast_tray(spectrum: Array, *, wet: bool = False) -> Callable[[Bench, float, float], dict[str, Region]]:
    """An oblong trinket tray of cast cement with a flat floor and a rounded wall."""

    def lay(bench: Bench, x: float, y: float) -> dict[str, Region]:
        piece, height = _tray_form(bench, x, y)
        bench.put(piece, spectrum, height, texture=_cast_skin(bench, piece), gloss=0.35 if wet else 0.0)
        return {"tray": box(x, y, 112)}

    return lay


def two_tone_tray(one: Array, two: Array) -> Callable[[Bench, float, float], dict[str, Region]]:
    """The same tray poured in two tones that meet in a wavy line across its floor."""

    def lay(bench: Bench, x: float, y: float) -> dict[str, Region]:
        piece, height = _tray_form(bench, x, y)
        skin = _cast_skin(bench, piece)
        u, v = bench.around(x, y)
        second = piece & (v > 34 + 26 * np.sin(u / 62) + 9 * np.sin(u / 17) + bench.grain(6.0, 2.0))
        bench.put(piece, one, height, texture=skin)
        bench.put(second, two, height, texture=skin)
        return {"first tone": box(x, y - 118, 66), "second tone": box(x, y + 152, 66)}

    return lay


def _tray_form(bench: Bench, x: float, y: float) -> tuple[Mask, Array]:
    u, v = bench.around(x, y, 4)
    round_off = ((np.abs(u) / 262) ** 3.2 + (np.abs(v) / 322) ** 3.2) ** (1 / 3.2)
    piece = round_off < 1
    wall = np.exp(-(((round_off - 0.90) / 0.055) ** 2))
    return piece, 14 + 40 * wall - 8 * np.clip((round_off - 0.94) / 0.06, 0, 1)


def _cast_skin(bench: Bench, piece: Mask) -> Array:
    """Mottle of cast cement and a few pinholes."""
    skin = 1 + bench.grain(9.0, 0.012) + bench.grain(1.0, 0.014)
    ys, xs = np.nonzero(piece)
    for at in bench.rng.integers(0, len(xs), 26):
        radius = bench.rng.uniform(1.5, 4.5)
        near = np.s_[max(ys[at] - 8, 0) : ys[at] + 9, max(xs[at] - 8, 0) : xs[at] + 9]
        v, u = np.ogrid[near]
        skin[near] *= np.where((u - xs[at]) ** 2 + (v - ys[at]) ** 2 < radius**2, 0.45, 1.0)
    return skin


def _level(texture: Array, where: Mask) -> Array:
    """The texture with mean 1 over a mask, so that it does not change the shade."""
    return texture / texture[where].mean()


def box(x: float, y: float, half: float) -> Region:
    """A square region about a point."""
    return round(x - half), round(y - half), round(x + half), round(y + half)


def take(
    name: str,
    title: str,
    lay: Callable[[Bench, float, float], dict[str, Region]],
    spectra: Mapping[str, Array],
    shot: Shot,
    notes: str,
) -> Picture:
    """Set the table, lay the thing down, photograph it, and note the truth. spectra: region -> reflectance."""
    turn = {"camera-a": -2.0, "camera-b": 1.5, "camera-c": 3.0}[shot.camera]
    bench, corners = set_table(shot.seed, turn)
    regions = lay(bench, 1160.0, 592.0)
    labs = {region: _triple(reflectance_to_lab(spectra[region])) for region in regions}
    return Picture(
        name,
        title,
        photograph(bench, shot),
        regions,
        labs,
        [[round(float(c), 1) for c in corner] for corner in corners],
        [round(c + d, 1) for c, d in zip(CARD, (30, 25, -30, -25), strict=True)],
        notes,
        date(*map(int, shot.taken[:10].split(":"))),
    )


def _triple(lab: Array) -> tuple[float, float, float]:
    lightness, a, b = (round(float(part), 3) for part in lab)
    return lightness, a, b


def targets() -> list[tuple[str, Picture]]:
    """(cement, photograph) of the things whose shade the studio was asked for."""
    told = "Rendered by a script from invented spectra: nothing in this picture exists."
    window, daylight, lamp = "window", "daylight", "warm-led"
    white, grey = "white-cement", "grey-cement"
    found = [
        (white, "1-saucer", "Bisque saucer", saucer, BISQUE, Shot("camera-a", window, 0.80, 0.12, 35, seed=11)),
        (white, "2-leaf", "Sage leaf", leaf, LEAF, Shot("camera-b", daylight, 0.84, 0.09, 160, seed=12)),
        (white, "3-cloth", "Blue-grey cloth", cloth, CLOTH, Shot("camera-c", window, 0.76, 0.15, -50, seed=13)),
        (grey, "4-tile", "Brown glazed tile", glazed_tile, GLAZE, Shot("camera-a", lamp, 0.80, 0.10, 80, seed=14)),
        (white, "5-lid", "Coral enamel lid", enamel_lid, ENAMEL, Shot("camera-c", daylight, 0.78, 0.08, 20, seed=15)),
    ]  # fmt: skip
    return [
        (cement, take(f"target-{name}", title, lay, {name[2:]: spectrum}, shot, told))
        for cement, name, title, lay, spectrum, shot in found
    ]
