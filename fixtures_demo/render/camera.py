"""A hand-held camera: where it stands, and the ray through each pixel."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians, sin, tan

import numpy as np

from fixtures_demo.render.fields import Floats, Point


@dataclass(frozen=True)
class Camera:
    """A pinhole camera that looks at ``target`` from a distance (mm) and two angles (degrees).

    At azimuth 0 the camera stands on the side of negative y; positive azimuth walks to the right.
    """

    target: Point
    distance: float
    elevation: float
    azimuth: float
    roll: float = 0.0
    view_angle: float = 36.0

    @property
    def basis(self) -> tuple[Floats, Floats, Floats]:
        """Return the unit vectors to the right, up and forward."""
        el, az, roll = radians(self.elevation), radians(self.azimuth), radians(self.roll)
        forward = np.array([-sin(az) * cos(el), cos(az) * cos(el), -sin(el)])
        right = np.array([cos(az), sin(az), 0.0])
        up = np.cross(right, forward)
        tilted = right * cos(roll) + up * sin(roll)
        raised = up * cos(roll) - right * sin(roll)
        return (
            tilted.astype(np.float32),
            raised.astype(np.float32),
            forward.astype(np.float32),
        )

    @property
    def place(self) -> Floats:
        """Return where the camera is."""
        back = self.basis[2] * np.float32(self.distance)
        return (np.asarray(self.target, dtype=np.float32) - back).astype(np.float32)

    def focal_px(self, width: int) -> float:
        """Return the focal length in pixels for a picture of this width."""
        return width / 2 / tan(radians(self.view_angle / 2))

    def rays(self, width: int, height: int, step: int = 1) -> tuple[Floats, Floats, Floats]:
        """Return unit directions, each of shape (rows, columns), for every ``step``-th pixel."""
        focal = self.focal_px(width)
        half = (step - 1) / 2
        u = (np.arange(0, width, step, dtype=np.float32) + half - (width - 1) / 2) / focal
        v = ((height - 1) / 2 - np.arange(0, height, step, dtype=np.float32) - half) / focal
        right, up, forward = self.basis
        norm = 1 / np.sqrt(1 + (u * u)[None, :] + (v * v)[:, None])
        x, y, z = (
            ((forward[k] + right[k] * u)[None, :] + (up[k] * v)[:, None]) * norm for k in range(3)
        )
        return x.astype(np.float32), y.astype(np.float32), z.astype(np.float32)

    def project(self, points: Floats, width: int, height: int) -> tuple[Floats, Floats, Floats]:
        """Return column, row and distance from the camera of points of shape (n, 3)."""
        away = points - self.place
        right, up, forward = self.basis
        ahead = np.maximum(away @ forward, 1e-3)
        focal = self.focal_px(width)
        column = (away @ right) / ahead * focal + (width - 1) / 2
        row = (height - 1) / 2 - (away @ up) / ahead * focal
        return column, row, np.sqrt((away * away).sum(axis=1))
