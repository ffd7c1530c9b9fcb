"""Scenes of the plate: first layers too high or too low, and finger marks."""

from __future__ import annotations

import numpy as np

from fixtures_demo.render.fields import (
    Floats,
)
from fixtures_demo.render.grain import ramp, smooth_noise
from fixtures_demo.render.scene_kit import Request
from fixtures_demo.render.subject import Floor, Shot, linear


def first_layer_strands(ask: Request) -> Shot:
    """Return a first layer of round, separate lines that hardly touch; some have come loose."""
    strands = []
    half, pitch = 30.0, 1.15
    count = int(2 * half / pitch)
    for k in range(count):
        y = -half + pitch * k
        xs = np.linspace(-half, half, 46)
        height = np.full(46, 0.42)
        side = 0.10 * np.sin(xs * 0.8 + 9 * k)
        if ask.rng.random() < 0.22:
            middle, wide = ask.vary(-half, half), ask.vary(5, 14)
            bump = np.exp(-(((xs - middle) / wide) ** 2))
            height = height + ask.vary(0.6, 3.2) * bump
            side = side + ask.vary(-2.2, 2.2) * bump
        line = np.stack([xs, y + side, height], axis=1)
        strands.append(ask.thread(line.astype(np.float32), 0.36))
    for inset in (1.2, 2.3):
        edge = half + inset
        loop = np.array(
            [
                [-edge, -edge, 0.4],
                [edge, -edge, 0.4],
                [edge, edge, 0.4],
                [-edge, edge, 0.4],
                [-edge, -edge, 0.4],
            ],
            dtype=np.float32,
        )
        strands.append(ask.thread(loop, 0.36))
    if ask.view == "close":
        camera = ask.camera((4, -14, 0), 56, 30, 24)
    elif ask.view == "top":
        camera = ask.camera((0, 0, 0), 125, 68, 10)
    else:
        camera = ask.camera((0, -2, 0), 130, 38, 18)
    floor = Floor(ask.pick("black plate", "blue plate", "glass"), back=80)
    return Shot((), camera, (0, 0, 1), 40, tuple(strands), floor, ask.light(-1, 0.5))


def first_layer_see_through(ask: Request) -> Shot:
    """Return a first layer so thin that the plate shows through, with ridges at its edge."""
    half = 32.0
    tint = np.asarray(ask.tint, dtype=np.float32)

    def smear(x: Floats, y: Floats, albedo: Floats) -> tuple[Floats, Floats]:
        edge = half - np.maximum(np.abs(x), np.abs(y))
        line = (x + y) / 1.9
        ripple = np.abs(np.sin(np.pi * line + 0.5 * smooth_noise(x * 0.5, y * 0.5, 3)))
        patch = smooth_noise(x * 0.35 + 50, y * 0.35 + 20, 4)
        thin = np.clip(0.10 + 0.40 * ripple**6 + 0.16 * patch, 0.03, 0.85)
        border = 1 - ramp(edge, 0.9, 1.3)
        cover = np.where(edge > 0, np.maximum(thin, 0.85 * border), 0)
        return np.tile(tint, (x.size, 1)), cover.astype(np.float32)

    strands = []
    for k in range(30):
        at = -half + 2 * half * k / 29 + ask.vary(-0.5, 0.5)
        for sign in (-1, 1):
            if ask.rng.random() < 0.6:
                spot = np.array([[at, sign * half, 0.1], [at + 0.8, sign * half, 0.1]], np.float32)
                strands.append(ask.thread(spot, ask.vary(0.2, 0.5)))
    if ask.view == "close":
        camera = ask.camera((10, -18, 0), 58, 34, 20)
    elif ask.view == "top":
        camera = ask.camera((0, 0, 0), 125, 70, 8)
    else:
        camera = ask.camera((0, 0, 0), 135, 42, 16)
    floor = Floor(ask.pick("black plate", "brown plate"), back=85, decal=smear)
    return Shot((), camera, (0, 0, 1), 44, tuple(strands), floor, ask.light(-1, 0.6))


def plate_finger_marks(ask: Request) -> Shot:
    """Return an empty plate with greasy finger marks across the middle."""
    spots = [
        (
            -18 + 15 * k + ask.vary(-2, 2),
            8 + [0, 7, 9, 4][k] + ask.vary(-2, 2),
            ask.vary(-0.35, 0.35),
        )
        for k in range(4)
    ]
    spots += [(34, -18, 0.9), (-30, -26, -0.5), (2, -34, 0.2)]

    def prints(x: Floats, y: Floats, albedo: Floats) -> tuple[Floats, Floats]:
        cover = np.zeros(x.size, dtype=np.float32)
        for number, (cx, cy, turn) in enumerate(spots):
            dx, dy = x - cx, y - cy
            u = dx * np.cos(turn) + dy * np.sin(turn)
            v = dy * np.cos(turn) - dx * np.sin(turn)
            warp = smooth_noise(x * 0.22 + number * 40, y * 0.22, 4)
            oval = np.sqrt((u / 5.6) ** 2 + (v / 8.4) ** 2) + 0.10 * warp
            whorl = np.sqrt(u * u * 1.5 + (v + 2.5) ** 2) + 0.9 * warp
            ridges = 0.5 + 0.5 * np.sin(whorl * 7.8)
            patchy = np.clip(0.65 + 0.5 * smooth_noise(x * 0.5, y * 0.5 + number * 30, 4), 0, 1)
            smear = 1 - ramp(np.abs(u), 3, 6) * 0.4
            print_cover = (1 - ramp(oval, 0.55, 1.1)) * patchy * smear * (0.16 + 0.16 * ridges)
            cover = np.maximum(cover, print_cover)
        wipe = ramp(smooth_noise(x * 0.05 + y * 0.2, y * 0.9, 2), 0.6, 2.2)
        cover = np.maximum(cover, 0.10 * wipe)
        grease = np.asarray(linear("#a9acb0"), dtype=np.float32)
        return np.tile(grease, (x.size, 1)), (cover * 0.75).astype(np.float32)

    if ask.view == "close":
        camera = ask.camera((4, 10, 0), 78, 36, 14)
    elif ask.view == "top":
        camera = ask.camera((0, 0, 0), 140, 70, 6)
    else:
        camera = ask.camera((0, 2, 0), 150, 32, 12)
    floor = Floor(ask.pick("black plate", "blue plate"), back=80, decal=prints)
    return Shot((), camera, (0, 0, 1), 40, (), floor, ask.light(0.6, 0.5))
