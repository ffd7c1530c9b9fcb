"""Signed-distance fields of simple solids, in millimetres, and ways to combine them.

A field takes three equal arrays of coordinates and returns the distance to the nearest surface,
negative inside. Distances may be too short, never much too long, so that a ray can safely step by
them. z points up and the build plate is the plane z = 0.
"""

# Arithmetic of float arrays and plain numbers is "Any" in numpy's own annotations.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from math import cos, radians, sin
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating[Any]]
Field = Callable[[Floats, Floats, Floats], Floats]
Point = tuple[float, float, float]


def box(center: Point, half: Point, rounding: float = 0.4) -> Field:
    """Return a box with rounded edges."""
    (cx, cy, cz), (hx, hy, hz) = center, half
    r = min(rounding, hx, hy, hz)

    def distance(x: Floats, y: Floats, z: Floats) -> Floats:
        qx = np.abs(x - cx) - (hx - r)
        qy = np.abs(y - cy) - (hy - r)
        qz = np.abs(z - cz) - (hz - r)
        inside = np.minimum(np.maximum(np.maximum(qx, qy), qz), 0)
        ax, ay, az = np.maximum(qx, 0), np.maximum(qy, 0), np.maximum(qz, 0)
        return np.sqrt(ax * ax + ay * ay + az * az) + inside - r

    return distance


def ball(center: Point, radius: float, squash: Point = (1, 1, 1)) -> Field:
    """Return a ball, or an ellipsoid whose half axes are the radius times ``squash``."""
    cx, cy, cz = center
    sx, sy, sz = squash
    least = min(squash)

    def distance(x: Floats, y: Floats, z: Floats) -> Floats:
        dx, dy, dz = (x - cx) / sx, (y - cy) / sy, (z - cz) / sz
        return (np.sqrt(dx * dx + dy * dy + dz * dz) - radius) * least

    return distance


def rod(start: Point, end: Point, radius: float, end_radius: float | None = None) -> Field:
    """Return a rod with round ends, tapering to ``end_radius`` if given."""
    ax, ay, az = start
    bx, by, bz = end[0] - ax, end[1] - ay, end[2] - az
    length2 = bx * bx + by * by + bz * bz
    grow = (radius if end_radius is None else end_radius) - radius

    def distance(x: Floats, y: Floats, z: Floats) -> Floats:
        px, py, pz = x - ax, y - ay, z - az
        along = np.clip((px * bx + py * by + pz * bz) / length2, 0, 1)
        px, py, pz = px - along * bx, py - along * by, pz - along * bz
        return np.sqrt(px * px + py * py + pz * pz) - radius - grow * along

    return distance


def turned(
    heights: Sequence[float], radii: Sequence[float], center: tuple[float, float] = (0, 0)
) -> Field:
    """Return a solid of revolution about an upright axis, with straight lines between radii."""
    zs = np.asarray(heights, dtype=np.float64)
    rs = np.asarray(radii, dtype=np.float64)
    steps = np.maximum(np.diff(zs), 1e-6)
    cells = max(256, int(20 * (zs[-1] - zs[0])))
    table = np.interp(np.linspace(zs[0], zs[-1], cells + 1), zs, rs).astype(np.float32)
    slope = np.append(np.diff(table), np.float32(0))
    per_mm = np.float32(cells / (zs[-1] - zs[0]))
    steepest = float(np.max(np.abs(np.diff(rs)) / steps))
    lean = 1 / (1 + min(steepest, 2.0) ** 2) ** 0.5
    cx, cy = center
    bottom, top = float(zs[0]), float(zs[-1])

    def distance(x: Floats, y: Floats, z: Floats) -> Floats:
        dx, dy = x - cx, y - cy
        level = np.clip((z - bottom) * per_mm, 0, cells)
        cell = level.astype(np.int32)
        radius = table[cell] + slope[cell] * (level - cell)
        side = (np.sqrt(dx * dx + dy * dy) - radius) * lean
        return np.maximum(side, np.maximum(bottom - z, z - top))

    return distance


def prism(
    sides: int, radius: float, bottom: float, top: float, center: tuple[float, float] = (0, 0)
) -> Field:
    """Return an upright regular prism; ``radius`` reaches to the flats."""
    cx, cy = center
    angles = [2 * np.pi * k / sides for k in range(sides)]

    def distance(x: Floats, y: Floats, z: Floats) -> Floats:
        dx, dy = x - cx, y - cy
        d = np.maximum(bottom - z, z - top)
        for angle in angles:
            d = np.maximum(d, dx * cos(angle) + dy * sin(angle) - radius)
        return d

    return distance


def join(*fields: Field) -> Field:
    """Return the union of the fields."""

    def distance(x: Floats, y: Floats, z: Floats) -> Floats:
        d = fields[0](x, y, z)
        for other in fields[1:]:
            d = np.minimum(d, other(x, y, z))
        return d

    return distance


def melt(softness: float, *fields: Field) -> Field:
    """Return the union of the fields, run together over ``softness`` mm like soft plastic."""

    def distance(x: Floats, y: Floats, z: Floats) -> Floats:
        d = fields[0](x, y, z)
        for other in fields[1:]:
            e = other(x, y, z)
            near = np.maximum(softness - np.abs(d - e), 0) / softness
            d = np.minimum(d, e) - near * near * (softness / 4)
        return d

    return distance


def cut(solid: Field, *tools: Field) -> Field:
    """Return the solid with the tools taken away."""

    def distance(x: Floats, y: Floats, z: Floats) -> Floats:
        d = solid(x, y, z)
        for tool in tools:
            d = np.maximum(d, -tool(x, y, z))
        return d

    return distance


def between(solid: Field, bottom: float, top: float) -> Field:
    """Return what lies of the solid between two heights."""

    def distance(x: Floats, y: Floats, z: Floats) -> Floats:
        return np.maximum(solid(x, y, z), np.maximum(bottom - z, z - top))

    return distance


def moved(solid: Field, by: Point) -> Field:
    """Return the solid, moved."""
    bx, by_, bz = by
    return lambda x, y, z: solid(x - bx, y - by_, z - bz)


def spun(solid: Field, degrees: float, axis: str = "z") -> Field:
    """Return the solid, turned about an axis through the origin by the right-hand rule."""
    c, s = np.float32(cos(radians(degrees))), np.float32(sin(radians(degrees)))
    if axis == "x":
        return lambda x, y, z: solid(x, y * c + z * s, z * c - y * s)
    if axis == "y":
        return lambda x, y, z: solid(x * c - z * s, y, z * c + x * s)
    return lambda x, y, z: solid(x * c + y * s, y * c - x * s, z)


def swollen(
    solid: Field, by: Callable[[Floats, Floats, Floats], Floats], safety: float = 1.0
) -> Field:
    """Return the solid grown outwards by a function of place (shrunk where it is negative)."""
    return lambda x, y, z: (solid(x, y, z) - by(x, y, z)) * safety


def bent(solid: Field, lift: Callable[[Floats, Floats], Floats], safety: float = 0.8) -> Field:
    """Return the solid with every column lifted by a function of its place on the plate."""
    return lambda x, y, z: solid(x, y, z - lift(x, y)) * safety


def leaning(
    solid: Field, offset: Callable[[Floats], tuple[Floats, Floats]], safety: float = 0.7
) -> Field:
    """Return the solid with every height pushed sideways by a function of the height."""

    def distance(x: Floats, y: Floats, z: Floats) -> Floats:
        dx, dy = offset(z)
        return solid(x - dx, y - dy, z) * safety

    return distance


@dataclass(frozen=True)
class Layers:
    """Printed layers: their height, and for each of them a sideways offset and a growth.

    ``bead`` is how far the round edge of a layer stands out from the groove, in mm.
    """

    height: float
    bead: float
    grow: Floats = field(default_factory=lambda: np.zeros(1, dtype=np.float32))
    dx: Floats = field(default_factory=lambda: np.zeros(1, dtype=np.float32))
    dy: Floats = field(default_factory=lambda: np.zeros(1, dtype=np.float32))

    def index(self, z: Floats) -> NDArray[np.int32]:
        """Return the number of the layer at each height."""
        return np.floor(z / self.height).astype(np.int32)


def layered(solid: Field, layers: Layers) -> Field:
    """Return the solid as a printer lays it down, with a rounded edge for every layer."""
    last = len(layers.grow) - 1
    shifts = bool(np.any(layers.dx) or np.any(layers.dy))

    def distance(x: Floats, y: Floats, z: Floats) -> Floats:
        level = z / layers.height
        number = np.floor(level)
        phase = level - number
        bead = phase * (1 - phase) * (4 * layers.bead)
        if last:
            row = np.clip(number, 0, last).astype(np.int32)
            bead = bead + layers.grow[row]
            if shifts:
                x, y = x - layers.dx[row], y - layers.dy[row]
        return (solid(x, y, z) - bead) * 0.85

    return distance
