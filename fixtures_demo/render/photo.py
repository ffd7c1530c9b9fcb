"""Photos of the scenes: as pictures, and as files the way a phone writes them."""

from __future__ import annotations

from io import BytesIO
from zlib import crc32

import numpy as np
from PIL import Image

from fixtures_demo.render.catalog import SCENES
from fixtures_demo.render.scene_kit import MATERIALS, Request
from fixtures_demo.render.studio import shoot
from fixtures_demo.render.subject import COLORS

# Marrow Lane is invented; the place written is open sea, where nobody lives.
FICTIONAL_LATITUDE = (48.0, 15.0, 0.0)
FICTIONAL_LONGITUDE = (21.0, 40.0, 0.0)

ORIENTATION, MAKER, MODEL, TAKEN = 0x0112, 0x010F, 0x0110, 0x0132
PLACE_BLOCK = 0x8825
LATITUDE_REF, LATITUDE, LONGITUDE_REF, LONGITUDE = 1, 2, 3, 4

# How a viewer must turn what is stored, per orientation (EXIF 2.32, tag 274), undone.
_STORED = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def render_photo(
    scene: str,
    *,
    seed: int,
    view: str = "whole",
    color: str = "teal",
    material: str = "matt",
    size: tuple[int, int] = (1200, 900),
) -> Image.Image:
    """Return a photo of a scene; the same arguments always give the same picture.

    Parameters
    ----------
    scene : str
        A key of ``SCENES``.
    seed : int
        Not negative; chooses the stand of the camera, the light, the room and the details.
    view : str
        One of the scene's ``views``.
    color, material : str
        A name in ``COLORS`` and one of "matt", "gloss" and "clear".
    size : tuple of int
        Width and height in pixels, each at least 64.

    Raises
    ------
    KeyError
        If there is no such scene.
    ValueError
        If the view, colour, material, size or seed is not one of those above.
    """
    info = SCENES[scene]
    if view not in info.views:
        raise ValueError(f"{scene} has the views {', '.join(info.views)}, not {view}.")
    if color not in COLORS:
        raise ValueError(f"Colours are {', '.join(COLORS)}, not {color}.")
    if material not in MATERIALS:
        raise ValueError(f"Materials are {', '.join(MATERIALS)}, not {material}.")
    if min(size) < 64:
        raise ValueError(f"A photo is at least 64 px wide and high, not {size[0]} by {size[1]}.")
    rng = np.random.default_rng([seed, crc32(scene.encode())])
    return shoot(info.build(Request(view, color, material, rng)), size, rng)


def photo_bytes(
    scene: str,
    *,
    seed: int,
    view: str = "whole",
    color: str = "teal",
    material: str = "matt",
    size: tuple[int, int] = (1200, 900),
    format: str = "JPEG",
    exif_place: bool = False,
    orientation: int = 1,
) -> bytes:
    """Return a photo as the bytes of a file, with what a phone would write beside the picture.

    Parameters
    ----------
    format : str
        "JPEG", "PNG" or "WEBP".
    exif_place : bool
        Whether to write an (invented) place, device and time.
    orientation : int
        1 to 8 as in EXIF; the picture is stored turned, so that obeying it shows the photo upright.

    Raises
    ------
    ValueError
        If the orientation is not 1 to 8, or as for ``render_photo``.
    """
    if orientation not in range(1, 9):
        raise ValueError(f"Orientation is 1 to 8, not {orientation}.")
    picture = render_photo(scene, seed=seed, view=view, color=color, material=material, size=size)
    if orientation in _STORED:
        picture = picture.transpose(_STORED[orientation])
    exif = Image.Exif()
    if orientation != 1:
        exif[ORIENTATION] = orientation
    if exif_place:
        exif[MAKER], exif[MODEL] = "Invented", "Pocket camera"
        exif[TAKEN] = "2026:11:19 18:42:07"
        place = exif.get_ifd(PLACE_BLOCK)
        place[LATITUDE_REF], place[LATITUDE] = "N", FICTIONAL_LATITUDE
        place[LONGITUDE_REF], place[LONGITUDE] = "W", FICTIONAL_LONGITUDE
    out = BytesIO()
    extra = {"exif": exif.tobytes()} if len(exif) or exif_place else {}
    if format in ("JPEG", "WEBP"):
        picture.save(out, format, quality=88, **extra)
    else:
        picture.save(out, format, **extra)
    return out.getvalue()
