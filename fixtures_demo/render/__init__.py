"""Believable photos of 3D prints and their faults, drawn by the project itself.

No picture is kept in the repository: the demo and the tests draw what they need.
"""

from fixtures_demo.render.catalog import SCENES, SceneInfo, describe
from fixtures_demo.render.photo import photo_bytes, render_photo
from fixtures_demo.render.subject import COLORS

__all__ = ["COLORS", "SCENES", "SceneInfo", "describe", "photo_bytes", "render_photo"]
