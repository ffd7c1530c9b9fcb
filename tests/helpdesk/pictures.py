"""Small pictures and uploads for tests, drawn here so that nothing is committed as a file."""

import io
from typing import Any

import numpy as np
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from helpdesk.photos import images  # registers the HEIC codec

QUARTERS = {"nw": (200, 30, 30), "ne": (30, 160, 30), "sw": (30, 30, 200), "se": (240, 240, 240)}
assert images.DECODERS


def draw_picture(width: int = 64, height: int = 48, *, mode: str = "RGB") -> Image.Image:
    """Return a picture whose four quarters have four colours, so that turning it shows."""
    picture = Image.new("RGB", (width, height))
    for name, (x, y) in {
        "nw": (0, 0),
        "ne": (width // 2, 0),
        "sw": (0, height // 2),
        "se": (width // 2, height // 2),
    }.items():
        picture.paste(QUARTERS[name], (x, y, x + (width + 1) // 2, y + (height + 1) // 2))
    return picture.convert(mode)


def draw_noise(width: int, height: int, *, seed: int = 1) -> Image.Image:
    """Return a picture with detail like a photograph's, so that its file has a photo's weight."""
    noise = np.random.default_rng(seed)
    small = noise.integers(0, 255, (height // 10, width // 10, 3), dtype=np.uint8)
    return Image.fromarray(small).resize((width, height), Image.Resampling.BICUBIC)


def picture_bytes(
    picture: Image.Image | None = None, format_name: str = "JPEG", **kw: Any
) -> bytes:
    """Return a picture as the bytes of a file."""
    out = io.BytesIO()
    (picture or draw_picture()).save(out, format_name, **kw)
    return out.getvalue()


def upload(data: bytes | None = None, name: str = "IMG_0410.jpg") -> SimpleUploadedFile:
    """Return bytes as an uploaded file."""
    return SimpleUploadedFile(name, picture_bytes() if data is None else data)
