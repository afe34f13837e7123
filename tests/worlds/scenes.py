"""Things to photograph: the 24-patch chart in any pose, a grey card, tiles, a vessel on a table."""

from __future__ import annotations

import numpy as np

from colormatch.arrays import FloatArray
from colormatch.data import read_table
from colormatch.photo import board
from colormatch.spectra import N_BANDS, WAVELENGTHS_NM

from .camera import Scene, Thing

FRAME = np.full(N_BANDS, 0.035)  # the chart's dark frame
GREY_18 = np.full(N_BANDS, 0.18)
GAP = 0.14  # between patches, as a share of a patch


def project(corners: FloatArray, points: FloatArray) -> FloatArray:
    """Carry points (n, 2) of the unit square to the quadrilateral of four corners (clockwise from its origin)."""
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=float)
    rows = []
    for (x, y), (u, v) in zip(square, corners, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y, -u], [0, 0, 0, x, y, 1, -v * x, -v * y, -v]]
    matrix = np.linalg.svd(np.array(rows))[2][-1].reshape(3, 3)
    mapped = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return mapped[:, :2] / mapped[:, 2:]


def chart_corners(
    centre: tuple[float, float], width: float, *, turn: float = 0.0, tilt: float = 0.0, tilt_axis: float = 0.0
) -> FloatArray:
    """Corners (4, 2) of a chart seen in perspective: turned in the picture, tilted out of it (degrees)."""
    return _in_perspective(2 / 3, centre, width, turn, tilt, tilt_axis)


def board_corners(
    centre: tuple[float, float], width: float, *, turn: float = 0.0, tilt: float = 0.0, tilt_axis: float = 0.0
) -> FloatArray:
    """The same of the tile board's border."""
    return _in_perspective(board.HEIGHT / board.WIDTH, centre, width, turn, tilt, tilt_axis)


def _in_perspective(
    high: float, centre: tuple[float, float], width: float, turn: float, tilt: float, tilt_axis: float
) -> FloatArray:
    half = np.array([[-0.5, -high / 2], [0.5, -high / 2], [0.5, high / 2], [-0.5, high / 2]])
    turn, tilt, axis = np.radians([turn, tilt, tilt_axis])
    rotate = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    flat = np.column_stack([half @ rotate.T, np.zeros(4)])
    k = np.array([np.cos(axis), np.sin(axis), 0])
    tilted = flat * np.cos(tilt) + np.cross(k, flat) * np.sin(tilt) + np.outer(flat @ k, k) * (1 - np.cos(tilt))
    distance = 3.0  # in widths
    seen = tilted[:, :2] * (distance / (distance + tilted[:, 2:]))
    return np.asarray(centre) + width * seen


def patch_outlines(corners: FloatArray, share: float = 1.0) -> FloatArray:
    """(24, 4, 2) outlines of the patches of a chart, shrunk to a share of each patch."""
    pitch_x, pitch_y = 1 / (6 + 5 * GAP), 1 / (4 + 3 * GAP)
    outlines = []
    for row in range(4):
        for column in range(6):
            x, y = column * (1 + GAP) * pitch_x, row * (1 + GAP) * pitch_y
            inset = (1 - share) / 2
            low = np.array([x + inset * pitch_x, y + inset * pitch_y])
            high = np.array([x + (1 - inset) * pitch_x, y + (1 - inset) * pitch_y])
            outlines.append([low, [high[0], low[1]], high, [low[0], high[1]]])
    points = np.array(outlines, dtype=float).reshape(-1, 2)
    return project(corners, points).reshape(24, 4, 2)


def chart24(corners: FloatArray, *, margin: float = 0.06) -> tuple[Thing, ...]:
    """The chart's frame and its 24 patches (ISO 17321-1 reflectances) on four corner pixels."""
    table = read_table("chart24.csv")
    edge = np.array([[-margin, -1.5 * margin], [1 + margin, -1.5 * margin]])
    edge = np.vstack([edge, [[1 + margin, 1 + 1.5 * margin], [-margin, 1 + 1.5 * margin]]])
    frame = Thing("chart frame", project(corners, edge), FRAME)
    spectra, names = table.numbers(), [row[0] for row in table.rows]
    patches = zip(names, patch_outlines(corners), spectra, strict=True)
    return (frame, *(Thing(name, outline, spectrum) for name, outline, spectrum in patches))


def cement_spectra(seed: int, count: int) -> FloatArray:
    """(count, 31) reflectances of invented cast cements: a pale base with up to three of five pigments.

    Made-up absorption edges in the places of common mineral pigments; mixing by Kubelka & Munk (1931).
    """
    rng = np.random.default_rng(seed)
    nm = WAVELENGTHS_NM

    def edge(at: float, width: float) -> FloatArray:
        return 1 / (1 + np.exp((nm - at) / width))

    def window(at: float, width: float) -> FloatArray:
        return np.exp(-(((nm - at) / width) ** 2))

    absorption = np.stack(
        [
            60 * edge(580, 14) + 4,  # red
            45 * edge(510, 16) + 2.5,  # yellow
            np.full(N_BANDS, 70.0),  # black
            30 * (edge(470, 18) + window(610, 50)) + 3,  # green
            25 * window(600, 60) + 1.5,  # blue
        ]
    )
    scatter = np.array([6.0, 5.0, 1.0, 5.0, 3.0])
    spectra = []
    for _ in range(count):
        load = np.zeros(5)
        chosen = rng.choice(5, size=rng.integers(1, 4), replace=False)
        load[chosen] = 10 ** rng.uniform(-3, np.log10(0.04), len(chosen))
        base = 0.03 + rng.uniform(0, 0.25) + rng.uniform(0, 0.06) * edge(480, 40)
        ratio = (base + load @ absorption) / (1 + load @ scatter)
        spectra.append(1 + ratio - np.sqrt(ratio**2 + 2 * ratio))
    return np.array(spectra)


def rectangle(x0: float, y0: float, x1: float, y1: float) -> FloatArray:
    """Outline (4, 2) of a rectangle."""
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float)


def tile(
    name: str,
    box: tuple[float, float, float, float],
    reflectance: FloatArray,
    *,
    texture: float = 0.03,
    pits: int = 12,
    glints: int = 0,
    margin: float = 0.15,
) -> Thing:
    """A flat cast tile; its region is the box less a margin."""
    x0, y0, x1, y1 = box
    dx, dy = margin * (x1 - x0), margin * (y1 - y0)
    region = (x0 + dx, y0 + dy, x1 - dx, y1 - dy)
    return Thing(name, rectangle(*box), reflectance, texture=texture, pits=pits, glints=glints, region=region)


def vessel(
    name: str,
    box: tuple[float, float, float, float],
    reflectance: FloatArray,
    *,
    texture: float = 0.03,
    pits: int = 25,
    glints: int = 0,
) -> Thing:
    """A tapering pot seen from the side; its region is the level middle."""
    x0, y0, x1, y1 = box
    taper = 0.12 * (x1 - x0)
    outline = np.array([[x0, y0], [x1, y0], [x1 - taper, y1], [x0 + taper, y1]], dtype=float)
    middle, reach = (x0 + x1) / 2, 0.2 * (x1 - x0)
    region = (middle - reach, y0 + 0.15 * (y1 - y0), middle + reach, y1 - 0.15 * (y1 - y0))
    return Thing(name, outline, reflectance, cylinder=True, texture=texture, pits=pits, glints=glints, region=region)


def grey_card(box: tuple[float, float, float, float]) -> Thing:
    """A neutral card of reflectance 0.18."""
    return tile("grey card", box, GREY_18, texture=0.005, pits=0)


def tile_board(
    corners: FloatArray, tiles: FloatArray, *, missing: tuple[int, ...] = (), texture: float = 0.03
) -> tuple[Thing, ...]:
    """The printed frame as photographed, its border's outer corners (4, 2) in pixels, a tile in every window."""
    ink, paper = np.full(N_BANDS, 0.05), np.full(N_BANDS, 0.85)

    def thing(name: str, points: FloatArray, spectrum: FloatArray, **more: float) -> Thing:
        return Thing(name, project(corners, points / (board.WIDTH, board.HEIGHT)), spectrum, **more)

    width, height, band, half = board.WIDTH, board.HEIGHT, board.BAND, board.HOLE / 2
    things = [
        thing("paper", rectangle(-14, -14, width + 14, height + 14), paper),
        thing("border", rectangle(0, 0, width, height), ink),
        thing("inside", rectangle(band, band, width - band, height - band), paper),
    ]
    things += [thing("hole", rectangle(x - half, y - half, x + half, y + half), paper) for x, y in board.HOLES]
    for number, (outline, spectrum) in enumerate(zip(board.window_outlines(corners), tiles, strict=True)):
        if number not in missing:
            things.append(Thing(f"window {number + 1}", outline, spectrum, texture=texture, pits=8))
    return tuple(things)


def studio_scene(
    tiles: FloatArray,
    *,
    size: tuple[int, int] = (1200, 900),
    turn: float = 0.0,
    tilt: float = 0.0,
    tilt_axis: float = 0.0,
    chart_width: float = 0.42,
    chart_centre: tuple[float, float] = (0.29, 0.36),
    with_chart: bool = True,
    glints: int = 3,
) -> Scene:
    """A table with a chart on the left, a grey card under it and up to 9 tiles ("tile 1"...) on the right.

    tiles: (n, 31) reflectances.
    """
    width, height = size
    things: list[Thing] = []
    corners = None
    if with_chart:
        centre = (chart_centre[0] * width, chart_centre[1] * height)
        corners = chart_corners(centre, chart_width * width, turn=turn, tilt=tilt, tilt_axis=tilt_axis)
        things += chart24(corners)
    things.append(grey_card((0.12 * width, 0.78 * height, 0.32 * width, 0.95 * height)))
    step = 0.135 * width
    for number, reflectance in enumerate(tiles):
        x = 0.59 * width + (number % 3) * step
        y = 0.1 * height + (number // 3) * step * 1.15
        box = (x, y, x + 0.115 * width, y + 0.115 * width)
        things.append(tile(f"tile {number + 1}", box, reflectance, glints=glints))
    return Scene(size, tuple(things), chart_corners=corners)
