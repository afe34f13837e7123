"""Find the 24-patch chart in a picture: even blobs, a lattice of them, the colours that fit.

1. Even blobs of a reduced picture whose second moments are those of a parallelogram.
2. Blobs about one patch apart are neighbours; walking from neighbour to neighbour gives each a
   column and a row, whatever the turn or the perspective.
3. Every 6 x 4 window of that lattice, in four turns, is tried against the chart's colours.
A refusal says what was missing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from ..arrays import FloatArray
from ..colorimetry import lab_to_xyz, xyz_to_linear_rgb
from ..errors import ReferenceNotFound
from .chart import COLUMNS, GAP, ROWS, chart_lab
from .picture import PREVIEW, Picture
from .regions import apply_homography, fit_homography

# These and the shares in the functions below are judgements, held by tests/benchmarks/test_photo_chart.py: found in
# 95 % of frames at least, never laid wrongly.
_PREVIEWS = (PREVIEW, 2 * PREVIEW)  # longest side; the second only when the first shows no chart
_EDGES = (10, 5, 20)  # encoded steps between neighbours but one that make an edge
_FEWEST = 9  # blobs of 24
_MOST = 14  # columns or rows of a lattice: more, and it is a mosaic
_SURE = 0.25  # as below, so low that no other window need be tried
_FIT = 0.45  # rms of log colour left unexplained; a wrong window leaves more
_MARK = (
    "Mark its four corners by hand, clockwise from the outer corner of the dark-skin patch (top left of the "
    "printed side)."
)


@dataclass(frozen=True, eq=False)
class Blobs:
    """Even patches of the preview: centre (n, 2), covariance (n, 2, 2), area (n,)."""

    centre: FloatArray
    covariance: FloatArray
    area: FloatArray


@dataclass(frozen=True, eq=False)
class Placement:
    """A window of the lattice laid on the chart: lattice (column, row) to pixels, and how well colours fit."""

    to_picture: FloatArray
    misfit: float
    blobs: int


def find_chart(picture: Picture) -> FloatArray:
    """Corners (4, 2) in pixels, clockwise from the dark-skin patch; raises ReferenceNotFound with the reason."""
    seen = 0
    best: Placement | None = None
    for longest in _PREVIEWS:
        factor = picture.preview_factor(longest)
        if longest != _PREVIEWS[0] and factor == picture.preview_factor():
            break
        preview = picture.preview(longest)
        for edge in _EDGES:
            blobs = even_blobs(preview, edge)
            for members, lattice in lattices(blobs):
                seen = max(seen, len(members))
                for placed in placements(picture, preview, blobs.centre[members], lattice):
                    if best is None or placed.misfit < best.misfit:
                        best = placed
                    if best.misfit < _SURE:
                        return _corners(best.to_picture) * factor
            if best is not None and best.misfit < _FIT:
                return _corners(best.to_picture) * factor
    raise ReferenceNotFound(_reason(seen, best))


def even_blobs(preview: NDArray[np.uint8], edge: int) -> Blobs:
    """Connected even areas shaped like a parallelogram (area = 12 sqrt(det of the covariance))."""
    from scipy.ndimage import label

    even = _even(preview, edge)
    labels = np.empty(even.size, dtype=np.intp)
    count = label(even, output=labels.reshape(even.shape))
    area = np.bincount(labels, minlength=count + 1)
    area[0] = 0
    wanted = (area >= 20) & (area <= 0.03 * even.size)
    place = np.flatnonzero(wanted.take(labels))
    which, row = labels[place], place // even.shape[1]
    x, y = place - row * even.shape[1] + 0.5, row + 0.5
    size = area[wanted].astype(np.float64)

    def mean(values: FloatArray) -> FloatArray:
        return np.bincount(which, values, minlength=count + 1)[wanted] / size

    mx, my = mean(x), mean(y)
    vx, vy, vxy = mean(x * x) - mx * mx, mean(y * y) - my * my, mean(x * y) - mx * my
    determinant = np.maximum(vx * vy - vxy * vxy, 1e-9)
    fullness = size / (12 * np.sqrt(determinant))
    half = (vx + vy) / 2
    split = np.sqrt(np.maximum(half * half - determinant, 0))
    square = (fullness > 0.8) & (fullness < 1.12) & (half + split < 7 * np.maximum(half - split, 1e-9))
    covariance = np.stack([np.stack([vx, vxy], -1), np.stack([vxy, vy], -1)], -2)
    return Blobs(np.stack([mx, my], axis=1)[square], covariance[square], size[square])


def _even(preview: NDArray[np.uint8], edge: int) -> NDArray[np.bool_]:
    """Where neighbours but one, across and down, differ by less than an edge in every channel; not at the rim."""
    planes = np.ascontiguousarray(np.moveaxis(preview, -1, 0))
    across = _largest_step(planes[:, 1:-1, 2:], planes[:, 1:-1, :-2])
    down = _largest_step(planes[:, 2:, 1:-1], planes[:, :-2, 1:-1])
    return np.pad(np.maximum(across, down) < edge, 1)


def _largest_step(one: NDArray[np.uint8], two: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return np.asarray((np.maximum(one, two) - np.minimum(one, two)).max(axis=0))


def lattices(blobs: Blobs) -> Iterator[tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """Groups of neighbouring blobs, largest first: members (m,) and their (column, row) (m, 2)."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    first, second = _neighbours(blobs)
    n = len(blobs.area)
    if not len(first):
        return
    graph = coo_array((np.ones(len(first)), (first, second)), shape=(n, n))
    _, group = connected_components(graph, directed=False)
    sizes = np.bincount(group)
    for which in np.argsort(-sizes)[:4]:
        if sizes[which] < _FEWEST:
            return
        inside = group[first] == which
        walked = _walk(blobs.centre, first[inside], second[inside])
        if len(walked[0]) >= _FEWEST and np.ptp(walked[1], axis=0).max() < _MOST:
            yield walked


def _neighbours(blobs: Blobs) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs of like blobs one patch pitch apart, measured in the blob's own moments."""
    from scipy.spatial import cKDTree

    if len(blobs.area) < _FEWEST:
        return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp)
    side = np.sqrt(blobs.area) + 2
    tree = cKDTree(blobs.centre)
    found = tree.query(blobs.centre, k=min(13, len(side)))
    distance, index = np.asarray(found[0]), np.asarray(found[1])
    first = np.repeat(np.arange(len(side)), index.shape[1] - 1)
    second, apart = index[:, 1:].ravel(), distance[:, 1:].ravel()
    ratio = side[first] / side[second]
    fair = (ratio > 0.65) & (ratio < 1.55) & (apart < 2.6 * side[first])
    first, second = first[fair], second[fair]
    # Give back the rim that the edge took from every blob: about one pixel all round.
    grown = blobs.covariance * (((side / (side - 2)) ** 2)[:, None, None])
    shared = np.linalg.inv((grown[first] + grown[second]) / 2)
    step = blobs.centre[second] - blobs.centre[first]
    pitch = np.sqrt(np.einsum("ni,nij,nj->n", step, shared, step) / 12)
    near = (pitch > 0.95) & (pitch < 1.45)
    return first[near], second[near]


def _walk(
    centre: FloatArray, first: NDArray[np.intp], second: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Columns and rows by walking along the two main directions of the steps between neighbours."""
    step = centre[second] - centre[first]
    axes = _two_directions(step)
    along = np.linalg.solve(axes.T, step.T).T  # in the two directions
    along /= np.median(np.abs(along).max(axis=1))
    main = np.abs(along).argmax(axis=1)
    clear = np.abs(along).min(axis=1) < 0.45 * np.abs(along).max(axis=1)
    move = np.zeros((len(first), 2), dtype=np.intp)
    move[np.arange(len(first)), main] = np.sign(along[np.arange(len(first)), main]).astype(np.intp)
    links: dict[int, list[tuple[int, NDArray[np.intp]]]] = {}
    for a, b, m, ok in zip(first, second, move, clear, strict=True):
        if ok:
            links.setdefault(int(a), []).append((int(b), m))
            links.setdefault(int(b), []).append((int(a), -m))
    if not links:
        return np.zeros(0, dtype=np.intp), np.zeros((0, 2), dtype=np.intp)
    start = max(links, key=lambda k: len(links[k]))
    at = {start: np.zeros(2, dtype=np.intp)}
    queue = [start]
    for node in queue:
        for other, m in links[node]:
            if other not in at:
                at[other] = at[node] + m
                queue.append(other)
    members, cells = np.array(list(at), dtype=np.intp), np.array(list(at.values()), dtype=np.intp)
    # Two blobs in one cell: the walk came round wrongly; the one nearer to its start stays.
    once = np.sort(np.unique(cells, axis=0, return_index=True)[1])
    return members[once], cells[once]


def _two_directions(step: FloatArray) -> FloatArray:
    """Two unit vectors (rows), the second clockwise of the first as seen, that the steps run along."""
    angle = np.arctan2(step[:, 1], step[:, 0])
    twice = np.stack([np.cos(2 * angle), np.sin(2 * angle)], axis=1)
    # Steps at right angles are opposite once doubled: start from the main axis, then two means.
    main = np.linalg.eigh(twice.T @ twice)[1][:, -1]
    middles = np.stack([main, -main])
    for _ in range(8):
        nearest = (twice @ middles.T).argmax(axis=1)
        for k in (0, 1):
            if (nearest == k).any():
                middle = twice[nearest == k].mean(axis=0)
                middles[k] = middle / max(float(np.linalg.norm(middle)), 1e-9)
    half = np.arctan2(middles[:, 1], middles[:, 0]) / 2
    axes = np.stack([np.cos(half), np.sin(half)], axis=1)
    if axes[0, 0] * axes[1, 1] - axes[0, 1] * axes[1, 0] < 0:
        axes[1] = -axes[1]
    return axes


def placements(
    picture: Picture, preview: NDArray[np.uint8], centre: FloatArray, lattice: NDArray[np.intp]
) -> Iterator[Placement]:
    """Every 6 x 4 window of the lattice in four turns, fullest first, with its colour misfit."""
    for within, cell in sorted(_windows(lattice), key=lambda window: -int(window[0].sum())):
        placed = _place(picture, preview, centre[within], cell[within].astype(np.float64))
        if placed is not None:
            yield placed


def _windows(lattice: NDArray[np.intp]) -> Iterator[tuple[NDArray[np.bool_], NDArray[np.intp]]]:
    """Which of the lattice lie within a window, and their (column, row) in it."""
    turn = np.array([[0, -1], [1, 0]])
    turned = lattice
    for _ in range(4):
        turned = turned @ turn.T
        at = turned - turned.min(axis=0)
        spare = at.max(axis=0) + 1 - (COLUMNS, ROWS)
        for column in range(min(0, int(spare[0])), max(0, int(spare[0])) + 1):
            for row in range(min(0, int(spare[1])), max(0, int(spare[1])) + 1):
                cell = at - (column, row)
                yield ((cell >= 0) & (cell < (COLUMNS, ROWS))).all(axis=1), cell


def _place(picture: Picture, preview: NDArray[np.uint8], centre: FloatArray, cell: FloatArray) -> Placement | None:
    for _ in range(3):  # drop blobs off the common perspective
        if len(centre) < _FEWEST or np.ptp(cell, axis=0).min() < 1:
            return None
        to_picture = fit_homography(cell, centre)
        off = np.nan_to_num(np.linalg.norm(apply_homography(to_picture, cell) - centre, axis=1), nan=np.inf)
        pitch = np.linalg.norm(apply_homography(to_picture, cell + np.array([1.0, 0.0])) - centre, axis=1)
        good = off < 0.15 * np.nanmedian(pitch)
        if good.all():
            break
        centre, cell = centre[good], cell[good]
    grid = np.stack(np.meshgrid(np.arange(COLUMNS), np.arange(ROWS)), axis=-1).reshape(-1, 2).astype(np.float64)
    points = apply_homography(to_picture, grid)
    high = np.array(preview.shape[1::-1])
    if not np.isfinite(points).all() or (points < 1).any() or (points >= high - 1).any():
        return None
    x, y = points.astype(int).T
    offsets = (-1, 0, 1)
    around = np.stack([preview[y + j, x + i] for i in offsets for j in offsets])
    return Placement(to_picture, _colour_misfit(picture.linear(around).mean(axis=0)), len(centre))


@cache
def _log_colours() -> FloatArray:
    return np.log(np.maximum(xyz_to_linear_rgb(lab_to_xyz(chart_lab())), 0) + 0.01)


def _colour_misfit(rgb: FloatArray) -> float:
    """How much of the chart's log colours an affine map of the log colours seen leaves unexplained (rms)."""
    wanted = _log_colours()
    seen = np.column_stack([np.log(np.maximum(rgb, 0) + 0.01), np.ones(len(rgb))])
    weight = np.ones(len(rgb))
    for _ in range(4):  # a patch in shadow or glare must not spoil the others
        root = np.sqrt(weight)[:, None]
        fitted = seen @ np.linalg.lstsq(root * seen, root * wanted, rcond=None)[0]
        off = np.sqrt(((fitted - wanted) ** 2).mean(axis=1))
        weight = 1 / np.maximum(off, 0.1)
    return float(np.median(off) + off.mean()) / 2


def _corners(to_picture: FloatArray) -> FloatArray:
    """Outer corners of the grid; a pitch of the lattice is one patch and one gap."""
    half = 0.5 / (1 + GAP)
    right, bottom = COLUMNS - 1 + half, ROWS - 1 + half
    return apply_homography(to_picture, np.array([[-half, -half], [right, -half], [right, bottom], [-half, bottom]]))


def _reason(seen: int, best: Placement | None) -> str:
    if seen < _FEWEST:
        why = "no regular pattern of even patches could be seen (it may be too small, blurred, or partly covered)"
    elif best is None:
        why = "a pattern of patches was seen, but not all of a 6 by 4 grid lies within the picture"
    else:
        why = "a pattern of patches was seen, but their colours are not those of the chart"
    return f"The 24-patch chart was not found: {why}. {_MARK}"
