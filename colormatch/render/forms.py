"""The forms of the drawn pieces: where each pixel's line of sight meets the piece.

Lines of sight are parallel (a long lens), looking down by the form's own angle. Vessels are bodies of
revolution with r^2 a quadratic in the height, stretched sideways for the tray; the tile is a box.
Lengths are in half-widths of the picture's field; x to the right, y away, z up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Vessel:
    """outer, inner: (a, b, c) of r^2 = a + b z + c z^2. floor: height of the cavity's bottom."""

    height: float
    outer: tuple[float, float, float]
    inner: tuple[float, float, float]
    floor: float
    stretch: float
    angle_deg: float
    lift: float

    def radius(self, z: Floats | float, inner: bool = False) -> Floats:
        """Radius of the wall at height z."""
        a, b, c = self.inner if inner else self.outer
        return np.sqrt(np.maximum(a + b * z + c * np.square(z), 0), dtype=np.float32)


@dataclass(frozen=True, slots=True)
class Slab:
    """A square tile lying flat, turned about the vertical."""

    half: float
    height: float
    turn_deg: float
    angle_deg: float
    lift: float


@dataclass(frozen=True, slots=True)
class Surface:
    """What is seen: for the m pixels of the piece their index in the flat picture, position and normal.

    position, normal: (3, m). exposure: share of the sky seen, 0..1. lit: share of the lamp seen, 0..1.
    """

    pixels: NDArray[np.intp]
    position: Floats
    normal: Floats
    exposure: Floats
    lit: Floats


def _cone(low: float, high: float, height: float) -> tuple[float, float, float]:
    slope = (high - low) / height
    return (low * low, 2 * low * slope, slope * slope)


def _ellipsoid(radius: float, depth: float, height: float) -> tuple[float, float, float]:
    """Centred at the rim's height."""
    s = (radius / depth) ** 2
    return (radius**2 - s * height**2, 2 * s * height, -s)


# Sizes in units of a piece's own width; how much light corners and shadows take, by eye.
FORMS: dict[str, Vessel | Slab] = {
    "cup": Vessel(1.02, _cone(0.42, 0.52, 1.02), _cone(0.355, 0.455, 1.02), 0.09, 1.0, 24, -0.45),
    "bowl": Vessel(0.56, _ellipsoid(0.74, 0.63, 0.56), _ellipsoid(0.675, 0.51, 0.56), 0.07, 1.0, 32, -0.25),
    "tray": Vessel(0.19, _cone(0.54, 0.60, 0.19), _cone(0.48, 0.545, 0.19), 0.06, 1.4, 38, -0.08),
    "tile": Slab(0.58, 0.14, 38, 42, -0.05),
}

LAMP: Floats = np.array([-0.52, -0.50, 0.69], dtype=np.float32)  # from the upper left, in front
LAMP /= np.linalg.norm(LAMP)
_SOFT = 0.09  # width of a shadow's edge


def view_direction(form: Vessel | Slab) -> Floats:
    """(3,) unit vector from the piece to the eye."""
    angle = np.radians(form.angle_deg)
    return np.array([0.0, -np.cos(angle), np.sin(angle)], dtype=np.float32)


def screen_grid(n: int) -> tuple[Floats, Floats]:
    """(1, n) and (n, 1) picture coordinates -1..1 of the pixels' centres, up is positive."""
    step = ((np.arange(n, dtype=np.float32) + 0.5) / n * 2 - 1).astype(np.float32)
    return step[None, :], -step[:, None]


def ground_points(form: Vessel | Slab, u: Floats, v: Floats) -> tuple[Floats, Floats]:
    """x and y where the line of sight through (u, v) meets the table."""
    angle = np.radians(form.angle_deg)
    return u, (v - np.float32(form.lift)) / np.float32(np.sin(angle))


def surface(form: Vessel | Slab, n: int) -> Surface:
    """The piece as seen on an n x n picture."""
    u, v = screen_grid(n)
    v = v - np.float32(form.lift)
    return _see_slab(form, u, v) if isinstance(form, Slab) else _see_vessel(form, u, v)


def _see_vessel(form: Vessel, u: Floats, v: Floats) -> Surface:
    angle = np.radians(form.angle_deg)
    sin, cos = float(np.sin(angle)), float(np.cos(angle))
    reach = form.radius(form.height)
    # Only pixels that can see the piece: within its width, between foot and rim.
    columns = np.flatnonzero(np.abs(u[0]) <= reach * form.stretch * 1.001)
    near = np.flatnonzero((v[:, 0] >= -reach * sin) & (v[:, 0] <= form.height * cos + reach * sin))
    x = np.broadcast_to(u[:, columns] / np.float32(form.stretch), (len(near), len(columns))).ravel()
    line = np.broadcast_to(v[near], (len(near), len(columns))).ravel()
    pixels = (near[:, None] * u.shape[1] + columns[None, :]).ravel()

    at_rim = (line - form.height * cos) / sin  # y where the line of sight passes the rim's height
    rho = np.hypot(x, at_rim)
    in_cavity = rho < form.radius(form.height, inner=True)
    on_rim = (rho <= reach) & ~in_cavity
    outside, z_out = _meet(form.outer, x, line, sin, cos, near=True)
    on_wall = (rho > reach) & outside & (z_out >= 0) & (z_out <= form.height)
    _, z_in = _meet(form.inner, x, line, sin, cos, near=False)
    z = np.where(on_wall, z_out, np.where(on_rim, form.height, np.maximum(z_in, form.floor)))
    keep = on_wall | on_rim | in_cavity
    x, line, z, pixels = x[keep], line[keep], z[keep].astype(np.float32), pixels[keep]
    in_cavity, on_rim, on_wall = in_cavity[keep], on_rim[keep], on_wall[keep]
    y = (line - z * cos) / sin
    radial = np.hypot(x, y)
    normal = _vessel_normals(form, x, y, z, radial, in_cavity, on_rim)
    exposure, lit = _vessel_light(form, x, y, z, in_cavity, on_wall)
    position = np.stack([x * np.float32(form.stretch), y, z])
    return Surface(pixels, position, normal, exposure, lit)


def _meet(
    shape: tuple[float, float, float], x: Floats, v: Floats, sin: float, cos: float, *, near: bool
) -> tuple[Bools, Floats]:
    """Height where the line of sight meets a quadric of revolution, at its near or far side."""
    a, b, c = shape
    # Along the line y = (v - z cos) / sin: x^2 + y^2 = a + b z + c z^2 is a quadratic in z.
    square = cos * cos / (sin * sin) - c
    linear = -2 * v * cos / (sin * sin) - b
    constant = x * x + v * v / (sin * sin) - a
    inside = linear * linear - 4 * square * constant
    root = np.sqrt(np.maximum(inside, 0))
    z = (-linear + root) / (2 * square) if near else (-linear - root) / (2 * square)
    return inside >= 0, z.astype(np.float32)


def _vessel_normals(
    form: Vessel, x: Floats, y: Floats, z: Floats, radial: Floats, in_cavity: Bools, on_rim: Bools
) -> Floats:
    _, b, c = form.outer
    _, bi, ci = form.inner
    safe = np.maximum(radial, 1e-6)
    # Gradient of r^2 - (a + b z + c z^2), outward for the wall, inward for the cavity.
    out = np.where(in_cavity, -safe, safe)
    up = np.where(in_cavity, (bi + 2 * ci * z) / 2, -(b + 2 * c * z) / 2)
    # The lip is rounded off: it leans outward at its outer edge and inward at its inner edge.
    low, high = form.radius(form.height, inner=True), form.radius(form.height)
    across = (radial - (low + high) / 2) / ((high - low) / 2)
    out = np.where(on_rim, across**3, out)
    up = np.where(on_rim, 1.0, up)
    on_floor = in_cavity & (z <= form.floor + 1e-4)
    corner = np.clip(1 - (form.radius(form.floor, inner=True) - radial) / 0.06, 0, 1) ** 2
    out = np.where(on_floor, -corner, out)
    up = np.where(on_floor, 1.0, up)
    top = ~on_rim & ~in_cavity
    edge = np.where(top, np.clip(1 - (form.height - z) / 0.035, 0, 1) ** 2, 0)
    up = up + edge * radial
    normal = np.stack([out * x / safe / np.float32(form.stretch), out * y / safe, up]).astype(np.float32)
    return np.asarray(normal / np.linalg.norm(normal, axis=0), dtype=np.float32)


def _vessel_light(
    form: Vessel, x: Floats, y: Floats, z: Floats, in_cavity: Bools, on_wall: Bools
) -> tuple[Floats, Floats]:
    """How much of the sky and of the lamp each point sees."""
    mouth = form.radius(form.height, inner=True)
    depth = np.where(in_cavity, form.height - z, 0)
    sky = 1 / (1 + 1.1 * np.square(depth / mouth))
    foot = np.where(on_wall, 0.62 + 0.38 * np.clip(z / 0.22, 0, 1), 1.0)
    # Towards the lamp, a point in the cavity leaves through the mouth or runs into the wall.
    rise = depth / LAMP[2]
    leaving = np.hypot(x + LAMP[0] / form.stretch * rise, y + LAMP[1] * rise)
    blocked = np.clip((leaving - mouth) / (_SOFT * (0.3 + depth)) + 0.5, 0, 1)
    lit = np.where(in_cavity, 1 - blocked, 1.0)
    return (sky * foot).astype(np.float32), lit.astype(np.float32)


def _see_slab(form: Slab, u: Floats, v: Floats) -> Surface:
    angle, turn = np.radians(form.angle_deg), np.radians(form.turn_deg)
    sin, cos = np.float32(np.sin(angle)), np.float32(np.cos(angle))
    c, s = np.float32(np.cos(turn)), np.float32(np.sin(turn))
    h, top = np.float32(form.half), np.float32(form.height)
    n = u.shape[1]
    x, line = np.broadcast_to(u, (n, n)).ravel(), np.broadcast_to(v, (n, n)).ravel()
    y = (line - top * cos) / sin
    p, q = c * x + s * y, c * y - s * x  # the tile's own axes
    on_top = (np.abs(p) <= h) & (np.abs(q) <= h)
    # The two sides that face the eye: q = -h and, on the side it is turned to, p = -h.
    hits = []
    for axis in (0, 1):
        normal = np.array([-c, -s, 0] if axis == 0 else [s, -c, 0], dtype=np.float32)
        y_side = (h - normal[0] * x) / normal[1]
        z_side = (line - y_side * sin) / cos
        along = (c * y_side - s * x) if axis == 0 else (c * x + s * y_side)
        hit = (np.abs(along) <= h) & (z_side >= 0) & (z_side < top) & ~on_top
        hits.append((hit, y_side, z_side, normal))
    z, normal = np.full_like(x, top), np.zeros((3, x.size), np.float32)
    normal[2] = 1
    seen = on_top.copy()
    for hit, y_side, z_side, facing in hits:
        y, z = np.where(hit, y_side, y), np.where(hit, z_side, z)
        normal = np.where(hit, facing[:, None], normal)
        seen |= hit
    pixels = np.flatnonzero(seen)
    x, y, z, normal = x[pixels], y[pixels], z[pixels], normal[:, pixels]
    normal = _bevel(form, x, y, z, normal)
    exposure = np.where(z >= top - 1e-4, 1.0, 0.62 + 0.38 * np.clip(z / 0.14, 0, 1))
    return Surface(pixels, np.stack([x, y, z]), normal, exposure.astype(np.float32), np.ones(len(x), np.float32))


def _bevel(form: Slab, x: Floats, y: Floats, z: Floats, normal: Floats) -> Floats:
    """Lean the normals over near the upper edges, as if these were rubbed round."""
    turn, width = np.radians(form.turn_deg), 0.03
    c, s = np.float32(np.cos(turn)), np.float32(np.sin(turn))
    p, q = c * x + s * y, c * y - s * x
    lean_p = np.sign(p) * np.clip(1 - (form.half - np.abs(p)) / width, 0, 1) ** 2
    lean_q = np.sign(q) * np.clip(1 - (form.half - np.abs(q)) / width, 0, 1) ** 2
    on_top = z >= form.height - 1e-4
    lean_z = np.where(on_top, 0, np.clip(1 - (form.height - z) / width, 0, 1) ** 2)
    lean = np.where(on_top, 0.7, 0.0)
    tilt = np.stack([lean * (c * lean_p - s * lean_q), lean * (s * lean_p + c * lean_q), 0.7 * lean_z])
    bent = normal + tilt.astype(np.float32)
    return np.asarray(bent / np.linalg.norm(bent, axis=0), dtype=np.float32)


def shadow_on_ground(form: Vessel | Slab, n: int) -> Floats:
    """(n, n) share of light taken from the table, 0..1: a soft cast shadow and the contact's dark line.

    Worked out on a quarter of the pixels in each direction: it is softer than that.
    """
    from PIL import Image, ImageFilter

    coarse = -(-n // 4)
    u, v = screen_grid(coarse)
    x, y = ground_points(form, u, v)
    taken = np.zeros((coarse, coarse), np.float32)
    for height in np.linspace(0, form.height, 7):
        shift = height / LAMP[2]
        inside = _footprint(form, x + LAMP[0] * shift, y + LAMP[1] * shift, height)
        taken = np.maximum(taken, inside * np.float32(0.62 - 0.14 * height / form.height))
    contact = 0.35 * _footprint(form, x, y, 0.0).astype(np.float32)

    def soften(mask: Floats, radius: float) -> Floats:
        picture = Image.fromarray((mask * 255).astype(np.uint8)).filter(ImageFilter.GaussianBlur(radius * coarse))
        return np.asarray(picture, dtype=np.float32) / np.float32(255)

    shadow = 1 - (1 - soften(taken, 0.022)) * (1 - soften(contact, 0.03))
    return np.asarray(Image.fromarray(shadow).resize((n, n), Image.Resampling.BICUBIC), dtype=np.float32)


def _footprint(form: Vessel | Slab, x: Floats, y: Floats, height: float) -> Bools:
    if isinstance(form, Slab):
        turn = np.radians(form.turn_deg)
        c, s = np.float32(np.cos(turn)), np.float32(np.sin(turn))
        return np.asarray((np.abs(c * x + s * y) <= form.half) & (np.abs(c * y - s * x) <= form.half))
    return np.asarray(np.hypot(x / form.stretch, y) <= form.radius(height))


def inside_points(form: Vessel | Slab, count: int, seed: int) -> Floats:
    """(3, k) points spread evenly through the cement itself, for shares by volume."""
    rng = np.random.default_rng(seed)
    if isinstance(form, Slab):
        p, q = rng.uniform(-form.half, form.half, (2, count))
        turn = np.radians(form.turn_deg)
        x, y = np.cos(turn) * p - np.sin(turn) * q, np.sin(turn) * p + np.cos(turn) * q
        return np.stack([x, y, rng.uniform(0, form.height, count)]).astype(np.float32)
    reach = float(max(form.radius(form.height), form.radius(0.0)))
    x, y = rng.uniform(-reach, reach, (2, count)).astype(np.float32)
    z = rng.uniform(0, form.height, count).astype(np.float32)
    r = np.hypot(x, y)
    solid = (r <= form.radius(z)) & ((r >= form.radius(z, inner=True)) | (z <= form.floor))
    return np.stack([x * np.float32(form.stretch), y, z])[:, solid]
