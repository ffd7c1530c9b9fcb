"""What stands in front of the camera: surfaces, parts, strands, the floor and the light."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from fixtures_demo.render.camera import Camera
from fixtures_demo.render.fields import Field, Floats, Point

Color = tuple[float, float, float]
Paint = Callable[[Floats, Floats, Floats], Floats]

COLORS: dict[str, str] = {
    "teal": "#1f8f8a",
    "orange": "#e2701d",
    "grey": "#8c9096",
    "white": "#e4e2db",
    "black": "#26272a",
    "red": "#bf2c2b",
    "blue": "#2558a8",
    "green": "#4a9a3d",
    "yellow": "#e3b422",
    "purple": "#6d4a9c",
    "pink": "#d9789a",
    "natural": "#d9cfb4",
    "amber": "#c98a2b",
}


def linear(code: str) -> Color:
    """Return the linear light of a colour written as #rrggbb."""
    r, g, b = (((int(code[k : k + 2], 16) / 255) ** 2.2) for k in (1, 3, 5))
    return (r, g, b)


@dataclass(frozen=True)
class Surface:
    """How a material takes the light.

    ``shine`` is the strength and ``tightness`` the exponent of the highlight; ``clear`` is the
    share of the background seen through it; ``streak`` is how much one layer differs from the
    next; ``raster_mm`` is the spacing of the lines on its top faces, 0 for none.
    """

    color: Color
    shine: float = 0.25
    tightness: float = 22.0
    clear: float = 0.0
    streak: float = 0.05
    raster_mm: float = 0.5
    layer_mm: float = 0.0
    grit: float = 0.03
    paint: Paint | None = None

    def painted(self, paint: Paint) -> Surface:
        """Return the surface with a colour for every place."""
        return replace(self, paint=paint)


@dataclass(frozen=True)
class Part:
    """A solid and its surface."""

    shape: Field
    surface: Surface


@dataclass(frozen=True)
class Strand:
    """A thread of plastic along points of shape (n, 3); a single point is a drop."""

    points: Floats
    radius: float
    color: Color
    shine: float = 0.5


@dataclass(frozen=True)
class Floor:
    """What the subject stands on; ``kind`` is a name in ``backdrop.FLOORS``."""

    kind: str = "black plate"
    half_x: float = 112.0
    front: float = -170.0
    back: float = 112.0
    decal: Callable[[Floats, Floats, Floats], tuple[Floats, Floats]] | None = None


@dataclass(frozen=True)
class Light:
    """A window or lamp: the direction towards it and its strength, and the light of the room."""

    toward: Point = (-0.55, -0.45, 0.72)
    key: float = 1.75
    room: float = 0.5
    warmth: float = 0.0

    @property
    def unit(self) -> Floats:
        """Return the direction towards the light as a unit vector."""
        v = np.asarray(self.toward, dtype=np.float32)
        return (v / np.linalg.norm(v)).astype(np.float32)


@dataclass(frozen=True)
class Shot:
    """Everything a picture is made from; the ball at ``center`` holds all the parts."""

    parts: tuple[Part, ...]
    camera: Camera
    center: Point
    radius: float
    strands: tuple[Strand, ...] = ()
    floor: Floor = field(default_factory=Floor)
    light: Light = field(default_factory=Light)
    backdrop: str = "printer"
    blur_px: float = 3.0
    fine_mm: float = 0.1
