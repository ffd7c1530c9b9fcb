"""What is behind and beneath the subject: a room out of focus, plates, benches and cloths."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from fixtures_demo.render.fields import Floats
from fixtures_demo.render.grain import noise, ramp, smooth_noise
from fixtures_demo.render.subject import linear

Rgb = tuple[int, int, int]
Ground = Callable[[Floats, Floats], tuple[Floats, Floats]]


def room(kind: str, width: int, height: int, horizon: float, rng: np.random.Generator) -> Floats:
    """Return the linear light of a room out of focus; ``horizon`` is a row, may lie outside."""
    w, h = width // 4, height // 4
    line = horizon / 4
    wall = _jitter((176, 170, 160) if kind != "dark" else (70, 68, 68), 16, rng)
    picture = Image.new("RGB", (w, h), wall)
    draw = ImageDraw.Draw(picture)
    _window(draw, w, line, rng)
    _shelf(draw, w, line, rng)
    if kind == "printer":
        _frame(draw, w, line, rng)
    table = _jitter((58, 54, 52) if kind in ("printer", "dark") else (150, 118, 84), 10, rng)
    draw.rectangle((0, line - h * 0.03, w, h + 400), fill=table)
    soft = picture.filter(ImageFilter.GaussianBlur(w * 0.022))
    full = np.asarray(soft.resize((width, height), Image.Resampling.BILINEAR), dtype=np.float32)
    return ((full / 255) ** 2.2 * np.float32(1.1)).astype(np.float32)


def _jitter(color: Rgb, by: int, rng: np.random.Generator) -> Rgb:
    shift = rng.integers(-by, by + 1, 3) // 3 + rng.integers(-by, by + 1)
    r, g, b = (int(np.clip(c + s, 0, 255)) for c, s in zip(color, shift, strict=True))
    return (r, g, b)


def _window(draw: ImageDraw.ImageDraw, w: int, line: float, rng: np.random.Generator) -> None:
    left = float(rng.uniform(-0.1, 0.25)) * w
    wide = float(rng.uniform(0.2, 0.35)) * w
    draw.rectangle((left, line - 1.4 * w, left + wide, line - 0.30 * w), fill=(238, 240, 244))
    draw.rectangle(
        (left + wide * 0.47, line - 1.4 * w, left + wide * 0.53, line - 0.3 * w),
        fill=(190, 186, 180),
    )


def _shelf(draw: ImageDraw.ImageDraw, w: int, line: float, rng: np.random.Generator) -> None:
    """Draw a shelf with reels and boxes, which turn into soft discs and blocks."""
    y = line - float(rng.uniform(0.10, 0.2)) * w
    tints = [
        (166, 60, 44),
        (40, 92, 140),
        (208, 168, 60),
        (60, 120, 84),
        (70, 66, 70),
        (214, 210, 200),
        (120, 84, 60),
        (196, 120, 60),
    ]
    x = float(rng.uniform(0.3, 0.45)) * w
    while x < w * 1.05:
        size = float(rng.uniform(0.05, 0.11)) * w
        tint = _jitter(tints[int(rng.integers(len(tints)))], 18, rng)
        if rng.random() < 0.5:
            draw.ellipse((x, y - size, x + size, y), fill=tint)
            draw.ellipse(
                (x + size * 0.36, y - size * 0.64, x + size * 0.64, y - size * 0.36),
                fill=(50, 46, 44),
            )
        else:
            draw.rectangle((x, y - size * 0.8, x + size * 0.8, y), fill=tint)
        x += size * float(rng.uniform(1.0, 1.5))
    draw.rectangle((w * 0.28, y, w * 1.1, y + 0.02 * w), fill=(122, 92, 64))


def _frame(draw: ImageDraw.ImageDraw, w: int, line: float, rng: np.random.Generator) -> None:
    """Draw the uprights and the crossbeam of a printer."""
    metal = _jitter((52, 54, 58), 12, rng)
    left, right = float(rng.uniform(0.04, 0.14)) * w, float(rng.uniform(0.84, 0.94)) * w
    for x in (left, right):
        draw.rectangle((x, -400, x + 0.05 * w, line + 0.1 * w), fill=metal)
        draw.rectangle((x + 0.012 * w, -400, x + 0.018 * w, line), fill=(112, 114, 118))
    beam = line - float(rng.uniform(0.26, 0.5)) * w
    draw.rectangle((0, beam, w, beam + 0.035 * w), fill=metal)
    head = float(rng.uniform(0.55, 0.8)) * w
    draw.rectangle((head, beam - 0.05 * w, head + 0.11 * w, beam + 0.1 * w), fill=(34, 34, 36))


def _spread(color: str, shade: Floats) -> Floats:
    base = np.asarray(linear(color), dtype=np.float32)
    return base * np.maximum(shade, 0.05)[:, None]


def _powder_plate(color: str) -> Ground:
    def ground(x: Floats, y: Floats) -> tuple[Floats, Floats]:
        shade = 1 + 0.13 * noise(x * 4.3, y * 4.3, 0) + 0.05 * smooth_noise(x * 0.3, y * 0.3)
        worn = ramp(smooth_noise(x * 0.12 + 90, y * 0.12 + 40, 4), 0.9, 2.4)
        return _spread(color, shade + 0.25 * worn), (0.10 + 0.04 * worn).astype(np.float32)

    return ground


def _glass(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    haze = smooth_noise(x * 0.2, y * 0.2, 4)
    return _spread("#3a4246", 1 + 0.06 * haze), (0.55 + 0.04 * haze).astype(np.float32)


def _wood(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    wander = 3.5 * smooth_noise(x * 0.04, y * 0.10, 4)
    rings = np.sin((y + wander) * 0.9) * 0.10 + 0.12 * smooth_noise(x * 0.12, y * 2.6, 2)
    plank = np.abs(((y + 300) % 72) - 36)
    seam = 1 - 0.6 * ramp(plank, 35.2, 35.9)
    return _spread("#b98a58", (1 + rings) * seam), np.full(x.size, 0.12, dtype=np.float32)


def _mat(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    grid = np.minimum(np.abs(x % 10 - 5), np.abs(y % 10 - 5))
    lines = 1 - ramp(5 - np.maximum(np.abs(x % 10 - 5), np.abs(y % 10 - 5)), 0.12, 0.4)
    shade = 1 + 0.07 * noise(x * 3, y * 3, 1) + 0.5 * lines + 0 * grid
    return _spread("#3f5b52", shade), np.full(x.size, 0.06, dtype=np.float32)


def _paper(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    shade = 1 + 0.025 * noise(x * 5, y * 5, 1) + 0.03 * smooth_noise(x * 0.3, y * 0.3)
    return _spread("#dcd8ce", shade), np.full(x.size, 0.02, dtype=np.float32)


def _cloth(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    weave = np.sin(x * 6.0) * np.sin(y * 6.0)
    fold = smooth_noise(x * 0.10, y * 0.16, 4)
    shade = 1 + 0.18 * weave + 0.16 * fold + 0.08 * noise(x * 6, y * 6)
    return _spread("#56616e", shade), np.full(x.size, 0.02, dtype=np.float32)


def _steel(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    brush = noise(x * 0.35, y * 9.0, 0) * 0.07 + 0.05 * smooth_noise(x * 0.2, y * 0.2)
    return _spread("#8d9196", 1 + brush), np.full(x.size, 0.35, dtype=np.float32)


FLOORS: dict[str, Ground] = {
    "black plate": _powder_plate("#252527"),
    "brown plate": _powder_plate("#4c3b24"),
    "blue plate": _powder_plate("#24436b"),
    "glass": _glass,
    "bench": _wood,
    "mat": _mat,
    "paper": _paper,
    "cloth": _cloth,
    "steel": _steel,
}
