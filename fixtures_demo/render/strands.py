"""Draw threads too thin to follow by rays: each is a row of small balls, nearest one on top."""

# Arithmetic of float arrays and plain numbers is "Any" in numpy's own annotations.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from fixtures_demo.render.camera import Camera
from fixtures_demo.render.fields import Floats
from fixtures_demo.render.grain import blurred
from fixtures_demo.render.subject import Light, Strand

FINER = 2  # thin threads are drawn this many times finer than the picture, then averaged
THICK_PX = 2.6  # threads of at least this radius need no finer drawing
SHADOW_CELL_MM = 0.8


@dataclass(frozen=True)
class Beads:
    """Balls in a row: centres (n, 3), radii, linear colours (n, 3) and shine."""

    points: Floats
    radius: Floats
    color: Floats
    shine: Floats


def _resampled(points: Floats, spacing: float) -> Floats:
    """Return points along the line at a spacing in mm."""
    if len(points) < 2:
        return points
    lengths = np.linalg.norm(np.diff(points, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(lengths)])
    count = max(2, int(along[-1] / spacing) + 1)
    where = np.linspace(0, along[-1], count)
    return np.stack([np.interp(where, along, points[:, k]) for k in range(3)], axis=1).astype(
        np.float32
    )


def beads_of(strands: Sequence[Strand], mm_per_px: float) -> Beads:
    """Return the balls that make up the threads, close enough to touch in the picture."""
    points, radius, color, shine = [], [], [], []
    for strand in strands:
        spacing = max(strand.radius * 0.35, mm_per_px * 0.45)
        row = _resampled(np.asarray(strand.points, dtype=np.float32), spacing)
        points.append(row)
        radius.append(np.full(len(row), strand.radius, dtype=np.float32))
        color.append(np.tile(np.asarray(strand.color, dtype=np.float32), (len(row), 1)))
        shine.append(np.full(len(row), strand.shine, dtype=np.float32))
    return Beads(*(np.concatenate(p).astype(np.float32) for p in (points, radius, color, shine)))


def _own_shadow(beads: Beads, light: Light) -> Floats:
    """Return how much of the light passes the other threads, 0.3 to 1."""
    toward = light.unit
    reach = beads.points[:, 2] / toward[2]
    flat = beads.points[:, :2] - toward[:2] * reach[:, None]
    cell = np.floor((flat - flat.min(axis=0)) / SHADOW_CELL_MM).astype(np.int64)
    columns = int(cell[:, 0].max()) + 1
    key = cell[:, 1] * columns + cell[:, 0]
    top = np.full(int(key.max()) + 1, -np.inf, dtype=np.float32)
    np.maximum.at(top, key, reach)
    # Places of one thread that share a cell differ in reach; that is no shadow.
    depth = (top[key] - reach - 2 * SHADOW_CELL_MM) / (2 * np.maximum(beads.radius, 0.2))
    return np.clip(1 - 0.45 * depth, 0.3, 1).astype(np.float32)


def _splat(
    beads: Beads, camera: Camera, width: int, height: int
) -> tuple[np.ndarray, np.ndarray, Floats, Floats, Floats]:
    """Return touched pixels, the bead on top in each, its normal's parts and its cover."""
    column, row, distance = camera.project(beads.points, width, height)
    radius_px = beads.radius / distance * camera.focal_px(width)
    drawn_px = np.maximum(radius_px, 0.7)
    best = np.full(width * height, np.iinfo(np.uint64).max, dtype=np.uint64)
    number = np.arange(len(beads.points), dtype=np.uint64)
    near = float(distance.min())
    scale = (2**24 - 1) / max(float(distance.max()) - near + 2 * float(beads.radius.max()), 1e-6)
    for reach in np.unique(np.ceil(drawn_px)):
        chosen = np.flatnonzero(np.ceil(drawn_px) == reach)
        side = int(reach)
        oy, ox = np.mgrid[-side : side + 1, -side : side + 1]
        base_c, base_r = np.rint(column[chosen]), np.rint(row[chosen])
        for dy, dx in zip(oy.ravel(), ox.ravel(), strict=True):
            c, r = base_c + dx, base_r + dy
            u, v = (c - column[chosen]) / drawn_px[chosen], (r - row[chosen]) / drawn_px[chosen]
            inside = u * u + v * v
            ok = (inside < 1) & (c >= 0) & (c < width) & (r >= 0) & (r < height)
            if not ok.any():
                continue
            picked = chosen[ok]
            depth = distance[picked] - beads.radius[picked] * np.sqrt(1 - inside[ok])
            level = np.clip((depth - near + beads.radius.max()) * scale, 0, 2**24 - 1)
            key = (level.astype(np.uint64) << np.uint64(32)) | number[picked]
            pixel = (r[ok] * width + c[ok]).astype(np.int64)
            np.minimum.at(best, pixel, key)
    touched = np.flatnonzero(best != np.iinfo(np.uint64).max)
    owner = (best[touched] & np.uint64(0xFFFFFFFF)).astype(np.int64)
    u = (touched % width - column[owner]) / drawn_px[owner]
    v = (row[owner] - touched // width) / drawn_px[owner]
    thin = np.clip(radius_px[owner] / drawn_px[owner], 0, 1)
    inward = (1 - np.sqrt(u * u + v * v)) * drawn_px[owner]
    cover = thin * np.where(drawn_px[owner] > THICK_PX, np.clip(inward + 0.3, 0, 1), 1)
    return touched, owner, u.astype(np.float32), v.astype(np.float32), cover.astype(np.float32)


def draw_strands(
    strands: Sequence[Strand],
    camera: Camera,
    light: Light,
    width: int,
    height: int,
    depth: Floats,
) -> tuple[Floats, Floats]:
    """Return linear light (rows, columns, 3), already weighted, and cover (rows, columns).

    ``depth`` is the distance to the solid parts at each pixel; what lies behind is left out.
    """
    typical = float(np.linalg.norm(camera.place - np.asarray(camera.target, dtype=np.float32)))
    usual_px = float(np.median([s.radius for s in strands])) / typical * camera.focal_px(width)
    finer = 1 if usual_px > THICK_PX else FINER
    wide, high = width * finer, height * finer
    beads = beads_of(strands, typical / camera.focal_px(wide))
    touched, owner, u, v, cover = _splat(beads, camera, wide, high)
    distance = np.linalg.norm(beads.points - camera.place, axis=1)[owner]
    coarse = (touched // wide // finer) * width + (touched % wide) // finer
    seen = distance - beads.radius[owner] * 1.5 < depth.ravel()[coarse]
    owner, u, v, cover, coarse = owner[seen], u[seen], v[seen], cover[seen], coarse[seen]

    right, up, forward = camera.basis
    w = np.sqrt(np.maximum(1 - u * u - v * v, 0))
    normal = u[:, None] * right + v[:, None] * up - w[:, None] * forward
    half = light.unit - forward
    half = half / np.linalg.norm(half)
    lit = np.clip((normal @ light.unit + 0.35) / 1.35, 0, 1) * _own_shadow(beads, light)[owner]
    low = np.clip(0.55 + beads.points[owner, 2] / 14, 0.55, 1)
    glint = np.clip(normal @ half, 0, 1) ** 28 * beads.shine[owner] * 1.6
    sky = light.room * (0.65 + 0.35 * normal[:, 2]) * low
    shade = beads.color[owner] * (light.key * lit + sky)[:, None] + glint[:, None]

    weight = cover / finer**2
    total = np.bincount(coarse, weight, minlength=width * height)
    rgb = [np.bincount(coarse, weight * shade[:, k], minlength=width * height) for k in range(3)]
    picture = np.stack(rgb, axis=1).reshape(height, width, 3).astype(np.float32)
    return picture, np.clip(total, 0, 1).reshape(height, width).astype(np.float32)


def cast_shadow(
    strands: Sequence[Strand], camera: Camera, light: Light, width: int, height: int
) -> Floats:
    """Return, for each pixel of the floor, the share of light the threads let through."""
    scale = 2
    w, h = width // scale, height // scale
    typical = float(np.linalg.norm(camera.place - np.asarray(camera.target, dtype=np.float32)))
    beads = beads_of(strands, typical / camera.focal_px(w))
    toward = light.unit
    landed = beads.points - toward * (beads.points[:, 2:3] / toward[2])
    column, row, distance = camera.project(landed, w, h)
    broad = beads.radius / distance * camera.focal_px(w)
    c, r = np.rint(column).astype(np.int64), np.rint(row).astype(np.int64)
    ok = (c >= 0) & (c < w) & (r >= 0) & (r < h)
    weight = np.minimum(broad[ok] * 1.1, 3.0) * np.clip(1.2 - beads.points[ok, 2] / 60, 0.25, 1)
    heap = np.bincount(r[ok] * w + c[ok], weight, minlength=w * h).reshape(h, w)
    dark = blurred(heap.astype(np.float32), max(1, ceil(w / 500)))
    through = 1 - 0.72 * (1 - np.exp(-1.3 * dark))
    row_of = np.minimum(np.arange(height) // scale, h - 1)
    column_of = np.minimum(np.arange(width) // scale, w - 1)
    return through[row_of][:, column_of].astype(np.float32)
