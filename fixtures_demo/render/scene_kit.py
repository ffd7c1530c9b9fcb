"""What the scenes share: the request, camera and light by view, plastic, and common shapes."""

# Arithmetic of float arrays and plain numbers is "Any" in numpy's own annotations.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from fixtures_demo.render.camera import Camera
from fixtures_demo.render.fields import Field, Floats, Layers, Point, box, cut, turned
from fixtures_demo.render.subject import COLORS, Color, Floor, Light, Strand, Surface, linear

LAYER_MM = 0.42  # drawn thicker than real layers, so that they are seen in a picture 1200 px wide


# Strength and exponent of the highlight, and the share of the background seen through.
MATERIALS: dict[str, tuple[float, float, float]] = {
    "matt": (0.16, 12.0, 0.0),
    "gloss": (0.75, 34.0, 0.0),
    "clear": (0.9, 60.0, 0.5),
}


@dataclass(frozen=True)
class Request:
    """One photo asked for: the view, the plastic and the source of chance."""

    view: str
    color: str
    material: str
    rng: np.random.Generator

    def vary(self, low: float, high: float) -> float:
        """Return a number between two limits."""
        return float(self.rng.uniform(low, high))

    def pick(self, *choices: str) -> str:
        """Return one of the choices."""
        return choices[int(self.rng.integers(len(choices)))]

    @property
    def tint(self) -> Color:
        """Return the linear colour of the plastic."""
        return linear(COLORS[self.color])

    def plastic(self, **changes: Any) -> Surface:
        """Return the surface of the plastic asked for."""
        shine, tightness, clear = MATERIALS[self.material]
        usual = Surface(self.tint, shine, tightness, clear, layer_mm=LAYER_MM)
        return replace(usual, **changes)

    def thread(self, points: Floats, radius: float, glow: float = 1.0) -> Strand:
        """Return a thread of the same plastic."""
        r, g, b = self.tint
        shine = 0.3 if self.material == "matt" else 0.8
        return Strand(points, radius, (r * glow, g * glow, b * glow), shine)

    def camera(
        self,
        target: Point,
        distance: float,
        elevation: float = 22.0,
        azimuth: float = 28.0,
        view_angle: float = 36.0,
    ) -> Camera:
        """Return a camera held by hand: near the place asked for, never exactly level."""
        return Camera(
            (
                target[0] + self.vary(-1, 1) * distance * 0.012,
                target[1],
                target[2] + self.vary(-1, 1) * distance * 0.012,
            ),
            distance * self.vary(0.96, 1.05),
            elevation + self.vary(-2.5, 2.5),
            azimuth + self.vary(-5, 5),
            self.vary(-2.6, 2.6),
            view_angle,
        )

    def light(self, side: float = -1.0, height: float = 0.75, key: float = 1.75) -> Light:
        """Return daylight from a window; ``side`` -1 is left of the camera."""
        toward = (side * self.vary(0.5, 0.7), self.vary(-0.6, -0.35), height)
        return Light(toward, key, self.vary(0.46, 0.6), self.vary(-0.02, 0.03))

    def plate(self) -> Floor:
        """Return one of the workshop's build plates."""
        kind = self.pick("black plate", "black plate", "blue plate", "brown plate", "glass")
        return Floor(kind, back=self.vary(70, 110))

    def bench(self) -> Floor:
        """Return a table to put a finished print on."""
        return Floor(self.pick("bench", "bench", "mat", "paper", "cloth"), 260, -260, 230)


def layers(
    count: int, rng: np.random.Generator, *, jitter: float = 0.02, height: float = LAYER_MM
) -> Layers:
    """Return layers as a sound printer lays them, each a little unlike the next."""
    grow = (rng.standard_normal(count) * jitter).astype(np.float32)
    none = np.zeros(count, dtype=np.float32)
    return Layers(height, height * 0.13, grow, none, none.copy())


def rook(height: float = 58.0) -> Field:
    """Return a small castle tower with a battlement."""
    k = height / 58
    body = turned(
        [v * k for v in (0, 4, 6, 9, 14, 38, 42, 45, 47, 58)],
        [v * k for v in (17, 17, 15.5, 15.5, 12.5, 10.5, 11.5, 15, 15.5, 15.5)],
    )
    well = turned([46 * k, 47 * k, 60 * k], [10.5 * k, 10.5 * k, 10.5 * k])
    gaps = [
        box((0, 0, 57 * k), (20 * k, 2.6 * k, 5 * k), 0.2),
        box((0, 0, 57 * k), (2.6 * k, 20 * k, 5 * k), 0.2),
    ]
    window = box((0, -12 * k, 26 * k), (2.6 * k, 8 * k, 5 * k), 2.4 * k)
    return cut(body, well, *gaps, window)


def vase(height: float = 80.0, wall: float = 1.4) -> Field:
    """Return a hollow vase with a waist."""
    zs = np.linspace(0, height, 24)
    u = zs / height
    rs = (17 + 9 * np.sin(u * 2.9 + 0.35) - 3 * u) * height / 80
    outer = turned(list(zs), list(rs))
    inner = turned([2.0, *zs[2:], height + 4], [rs[0] - wall, *(rs[2:] - wall), rs[-1] - wall])
    return cut(outer, inner)


def open_tray(half_x: float, half_y: float, height: float, wall: float = 2.2) -> Field:
    """Return a shallow box without a lid."""
    outer = box((0, 0, height / 2), (half_x, half_y, height / 2), 2.0)
    inner = box((0, 0, height / 2 + 2.5), (half_x - wall, half_y - wall, height / 2), 1.5)
    return cut(outer, inner)


def wisp(start: Point, pull: Point, rng: np.random.Generator, count: int = 40) -> Floats:
    """Return points of a loose hair of plastic that curls away in the direction of the pull."""
    turns = np.cumsum(rng.normal(0, 0.26, (count, 3)), axis=0)
    heading = np.asarray(pull) + turns
    steps = 0.26 * heading / np.linalg.norm(heading, axis=1, keepdims=True)
    return (np.asarray(start) + np.cumsum(steps, axis=0)).astype(np.float32)


def sag(start: Point, end: Point, drop: float, rng: np.random.Generator, count: int = 24) -> Floats:
    """Return points of a thread that hangs between two places."""
    u = np.linspace(0, 1, count)[:, None]
    points = np.asarray(start) * (1 - u) + np.asarray(end) * u
    points[:, 2] -= drop * 4 * (u * (1 - u))[:, 0]
    return (points + rng.normal(0, 0.012, points.shape)).astype(np.float32)
