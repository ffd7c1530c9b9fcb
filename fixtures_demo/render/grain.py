"""Repeatable grain: tiles of random and of smooth noise, and look-ups into them."""

# Arithmetic of float arrays and plain numbers is "Any" in numpy's own annotations.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

from functools import lru_cache

import numpy as np

from fixtures_demo.render.fields import Floats

TILE = 512


def blurred(values: Floats, radius: int) -> Floats:
    """Return the picture softened by three box means of this radius, wrapping at its edges."""
    if radius < 1:
        return values
    width = 2 * radius + 1
    out = values.astype(np.float32)
    for _ in range(3):
        for axis in (0, 1):
            pads = [(0, 0)] * out.ndim
            pads[axis] = (radius + 1, radius)
            total = np.cumsum(np.pad(out, pads, mode="wrap"), axis=axis, dtype=np.float64)
            length = out.shape[axis]
            high = np.take(total, np.arange(width, width + length), axis=axis)
            low = np.take(total, np.arange(length), axis=axis)
            out = ((high - low) / width).astype(np.float32)
    return out


@lru_cache(maxsize=8)
def tile(smoothness: int) -> Floats:
    """Return a square tile of noise with mean 0 and spread 1; larger smoothness, larger spots."""
    raw = np.random.default_rng(977).standard_normal((TILE, TILE)).astype(np.float32)
    soft = blurred(raw, smoothness)
    soft = (soft - soft.mean()) / soft.std()
    soft.setflags(write=False)
    return soft.astype(np.float32)


def noise(u: Floats, v: Floats, smoothness: int = 0) -> Floats:
    """Return noise at places given in tile cells; the tile repeats every 512 cells."""
    row = np.floor(v).astype(np.int32) & (TILE - 1)
    col = np.floor(u).astype(np.int32) & (TILE - 1)
    return tile(smoothness)[row, col]


def smooth_noise(u: Floats, v: Floats, smoothness: int = 4) -> Floats:
    """Return noise without steps between the cells of the tile."""
    fu, fv = np.floor(u), np.floor(v)
    a, b = u - fu, v - fv
    row, col = fv.astype(np.int32) & (TILE - 1), fu.astype(np.int32) & (TILE - 1)
    row2, col2 = (row + 1) & (TILE - 1), (col + 1) & (TILE - 1)
    cells = tile(smoothness)
    low = cells[row, col] * (1 - a) + cells[row, col2] * a
    high = cells[row2, col] * (1 - a) + cells[row2, col2] * a
    return (low * (1 - b) + high * b).astype(np.float32)


def ramp(values: Floats, start: float, end: float) -> Floats:
    """Return 0 before ``start``, 1 after ``end``, smooth between (``end`` may be the lower)."""
    share = np.clip((values - start) / (end - start), 0, 1)
    return (share * share * (3 - 2 * share)).astype(np.float32)
