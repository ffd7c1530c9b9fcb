"""Find what each ray meets, and how much light reaches a place, by stepping through a field."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fixtures_demo.render.camera import Camera
from fixtures_demo.render.fields import Field, Floats, Point

COARSE_PX = 6  # side of the pixel blocks that are followed as one cone first
FINE_STEPS = 90
COARSE_STEPS = 60


@dataclass(frozen=True)
class Hits:
    """The pixels that see the solid: flat pixel numbers, distances and places."""

    pixel: NDArray[np.int64]
    distance: Floats
    x: Floats
    y: Floats
    z: Floats


def _sphere_span(
    place: Floats, rays: tuple[Floats, Floats, Floats], center: Point, radius: float
) -> tuple[Floats, Floats]:
    """Return the nearest and farthest distance of each ray inside a ball; near > far outside."""
    cx, cy, cz = (float(place[k]) - center[k] for k in range(3))
    b = rays[0] * cx + rays[1] * cy + rays[2] * cz
    c = cx * cx + cy * cy + cz * cz - radius * radius
    root = b * b - c
    reach = np.sqrt(np.maximum(root, 0))
    near = np.where(root > 0, np.maximum(-b - reach, 0), np.float32(1.0))
    far = np.where(root > 0, -b + reach, np.float32(0.0))
    return near.astype(np.float32), far.astype(np.float32)


def _coarse_starts(
    solid: Field, camera: Camera, width: int, height: int, center: Point, radius: float
) -> tuple[Floats, Floats]:
    """Return per block a safe distance to start from and the distance to give up at."""
    rays = camera.rays(width, height, COARSE_PX)
    shape = rays[0].shape
    place = camera.place
    near, far = _sphere_span(place, rays, center, radius)
    start = near.ravel().copy()
    limit = far.ravel()
    active = np.flatnonzero(limit > start)
    spread = COARSE_PX * 0.75 / camera.focal_px(width)
    flat = [r.ravel() for r in rays]
    stopped = np.zeros(start.size, dtype=bool)
    for _ in range(COARSE_STEPS):
        if not active.size:
            break
        t = start[active]
        d = solid(*(flat[k][active] * t + place[k] for k in range(3)))
        cone = spread * t
        blocked = d < cone
        stopped[active[blocked]] = True
        start[active] = np.where(blocked, t, t + np.maximum(d - cone * 0.5, 0.05))
        active = active[~blocked]
        active = active[start[active] < limit[active]]
    stopped[active] = True
    # One step back, since the displaced surface is not an exact distance.
    safe = np.where(stopped, np.maximum(start - 2 * spread * start, near.ravel()), np.inf)
    return safe.reshape(shape).astype(np.float32), far


def trace(
    solid: Field, camera: Camera, width: int, height: int, center: Point, radius: float
) -> Hits:
    """Return the pixels whose ray meets the solid inside the given ball."""
    safe, far = _coarse_starts(solid, camera, width, height, center, radius)
    rays = camera.rays(width, height)
    rows, cols = np.arange(height) // COARSE_PX, np.arange(width) // COARSE_PX
    start = safe[rows][:, cols].ravel()
    pixel = np.flatnonzero(np.isfinite(start))
    limit = far[rows][:, cols].ravel()[pixel]
    t = start[pixel]
    dx, dy, dz = (r.ravel()[pixel] for r in rays)
    px, py, pz = (float(v) for v in camera.place)
    footprint = 0.25 / camera.focal_px(width)
    done: list[tuple[NDArray[np.int64], Floats, Floats, Floats, Floats]] = []
    d = t
    for number in range(FINE_STEPS):
        x, y, z = dx * t + px, dy * t + py, dz * t + pz
        d = solid(x, y, z)
        hit = d < footprint * t
        last = number == FINE_STEPS - 1
        if last:
            hit = d < 6 * footprint * t
        if hit.any():
            done.append((pixel[hit], t[hit], x[hit], y[hit], z[hit]))
        t = t + np.maximum(d, footprint * t)
        keep = ~hit & (t < limit)
        if last or not keep.any():
            break
        pixel, t, limit = pixel[keep], t[keep], limit[keep]
        dx, dy, dz = dx[keep], dy[keep], dz[keep]
    if not done:
        empty = np.zeros(0, dtype=np.float32)
        return Hits(np.zeros(0, dtype=np.int64), empty, empty, empty, empty)
    parts = [np.concatenate(column) for column in zip(*done, strict=True)]
    return Hits(parts[0].astype(np.int64), *(p.astype(np.float32) for p in parts[1:]))


def normals(solid: Field, hits: Hits, reach: float) -> tuple[Floats, Floats, Floats]:
    """Return the unit normals at the hits, from differences over ``reach`` mm."""
    x, y, z = hits.x, hits.y, hits.z
    base = solid(x, y, z)
    e = np.float32(reach)
    nx, ny, nz = solid(x + e, y, z) - base, solid(x, y + e, z) - base, solid(x, y, z + e) - base
    norm = 1 / np.maximum(np.sqrt(nx * nx + ny * ny + nz * nz), 1e-9)
    return nx * norm, ny * norm, nz * norm


def soft_shadow(
    solid: Field, x: Floats, y: Floats, z: Floats, light: Floats, reach: float, softness: float
) -> Floats:
    """Return how much of a broad light reaches each place, 0 to 1."""
    open_share = np.ones(x.size, dtype=np.float32)
    active = np.arange(x.size)
    t = np.full(x.size, 0.6, dtype=np.float32)
    for _ in range(28):
        s = t[active]
        d = solid(x[active] + light[0] * s, y[active] + light[1] * s, z[active] + light[2] * s)
        open_share[active] = np.minimum(open_share[active], 0.5 + 0.5 * d / (softness * s))
        t[active] = s + np.clip(d * 0.8, 0.4, reach / 12)
        active = active[(open_share[active] > 0) & (t[active] < reach)]
        if not active.size:
            break
    share = np.clip(open_share, 0, 1)
    return share * share * (3 - 2 * share)
