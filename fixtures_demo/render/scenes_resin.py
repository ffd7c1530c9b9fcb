"""Scenes of resin printing: torn and split parts, and the vat with its film."""

# Arithmetic of float arrays and plain numbers is "Any" in numpy's own annotations.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import numpy as np

from fixtures_demo.render.fields import (
    Field,
    Floats,
    Layers,
    ball,
    box,
    cut,
    join,
    layered,
    melt,
    moved,
    rod,
    spun,
    swollen,
    turned,
)
from fixtures_demo.render.grain import noise, ramp, smooth_noise
from fixtures_demo.render.scene_kit import Request
from fixtures_demo.render.subject import COLORS, Floor, Part, Shot, Strand, Surface, linear


def _resin(code: str, clear: float = 0.0) -> Surface:
    return Surface(linear(code), 0.9, 48, clear, 0.0, 0.0, 0.0, 0.0)


def resin_torn(ask: Request) -> Shot:
    """Return a resin figure hanging on thin supports; part of it has torn away from them."""
    raft = box((0, 0, 1), (24, 17, 1), 0.8)
    torso = ball((-6, 0, 30), 11, (1.25, 0.9, 1.0))
    head = ball((-12, -1, 44), 7.0)
    tail = rod((4, 0, 30), (22, 3, 38), 5.0, 2.0)

    def missing(x: Floats, y: Floats, z: Floats) -> Floats:
        jag = 1.4 * np.clip(smooth_noise(y * 0.9 + 20, z * 0.9, 3), -1.4, 1.4)
        return ((9.5 + jag - x) * 0.6).astype(np.float32)

    def kept(x: Floats, y: Floats, z: Floats) -> Floats:
        jag = 1.2 * np.clip(smooth_noise(y * 0.9 + 60, z * 0.9 + 40, 3), -1.4, 1.4)
        return ((x + 5.5 + jag) * -0.6).astype(np.float32)

    figure = cut(melt(4, torso, head, tail), missing)
    lost = moved(spun(cut(moved(tail, (-15, 0, -34)), kept), 34, "y"), (20, -31, 3.4))
    posts: list[Field] = []
    strands = []
    color = linear(COLORS[ask.color])
    for x in (-18, -12, -6, 0, 6):
        for y in (-6, 0, 6):
            top = 30 - 9.6 * float(np.sqrt(max(0.02, 1 - ((x + 6) / 13.8) ** 2 - (y / 9.9) ** 2)))
            strands.append(
                Strand(np.array([[x, y, 2], [x, y, top - 2]], np.float32), 0.75, color, 0.7)
            )
            strands.append(
                Strand(np.array([[x, y, top - 2], [x, y, top + 0.6]], np.float32), 0.38, color, 0.7)
            )
    for x in (12, 17, 21):
        for y in (-4, 4):
            top = ask.vary(13, 26)
            lean = ask.vary(-2.5, 2.5)
            strands.append(
                Strand(
                    np.array([[x, y, 2], [x, y, top - 4], [x + lean, y, top]], np.float32),
                    0.72,
                    color,
                    0.7,
                )
            )
    for x in (-18, -6, 6):
        strands.append(Strand(np.array([[x, -6, 5], [x + 6, -6, 14]], np.float32), 0.5, color, 0.7))
    posts.append(raft)
    solid = layered(join(figure, *posts), Layers(0.3, 0.015))
    resin = _resin(COLORS[ask.color])
    camera = (
        ask.camera((6, -4, 27), 84, 10, 22)
        if ask.view == "close"
        else ask.camera((0, -3, 21), 150, 17, 20)
    )
    parts = (Part(solid, resin), Part(lost, resin))
    return Shot(
        parts,
        camera,
        (-2, -6, 24),
        46,
        tuple(strands),
        Floor("steel", 260, -260, 200),
        ask.light(-1),
        "workshop",
        3.0,
        0.12,
    )


def resin_cup_split(ask: Request) -> Shot:
    """Return a resin cup whose wall has blown out: a bulge with a ragged split along the layers."""
    height = 46.0
    outer, inner = turned([0, height], [19, 21]), turned([2.5, height + 4], [17.4, 19.4])
    at = ask.vary(19, 25)

    def blown(x: Floats, y: Floats, z: Floats) -> Floats:
        turn = np.arctan2(y, x) + 1.45
        return (2.8 * np.exp(-((turn / 0.55) ** 2) - ((z - at) / 9) ** 2)).astype(np.float32)

    def split(x: Floats, y: Floats, z: Floats) -> Floats:
        turn = np.arctan2(y, x) + 1.45
        wander = 0.8 * smooth_noise(turn * 9 + 40, turn * 3 + 9, 3) + 2.2 * turn
        wide = 2.3 * np.clip(1 - np.abs(turn) / 0.85, 0, 1) + 0.3 * smooth_noise(turn * 22, turn, 2)
        reach = np.where(np.abs(turn) < 0.85, wide, -1.0)
        out = np.maximum(np.abs(z - at - wander) - reach, 8.0 - np.hypot(x, y))
        return (out * 0.6).astype(np.float32)

    def swell(solid: Field) -> Field:
        def distance(x: Floats, y: Floats, z: Floats) -> Floats:
            r = np.maximum(np.hypot(x, y), 1e-3)
            k = 1 - blown(x, y, z) / r
            return solid((x * k).astype(np.float32), (y * k).astype(np.float32), z) * 0.75

        return distance

    cup = cut(swell(cut(outer, inner)), split)
    shape = layered(cup, Layers(0.3, 0.02))
    resin = _resin(COLORS[ask.color], 0.18 if ask.material == "clear" else 0.0)
    camera = (
        ask.camera((2, -18, at), 70, 8, 8)
        if ask.view == "close"
        else ask.camera((0, 0, 21), 148, 20, 10)
    )
    return Shot(
        (Part(shape, resin),),
        camera,
        (0, 0, 23),
        38,
        (),
        Floor("steel", 260, -260, 200),
        ask.light(-1, 0.6),
        "workshop",
        3.0,
        0.12,
    )


def _vat() -> tuple[Part, Part]:
    """Return the metal frame of a resin vat and its screws."""
    frame = cut(box((0, 0, 7), (62, 42, 7), 3), box((0, 0, 10), (52, 32, 20), 4))
    head = turned([13, 14.2, 14.7], [2.3, 2.3, 1.7])
    slot = box((0, 0, 15), (2.0, 0.4, 0.8), 0.1)
    screw = cut(head, slot)

    def heads(x: Floats, y: Floats, z: Floats) -> Floats:
        along = np.clip(np.rint((np.abs(x) - 10) / 20), 0, 2) * 20 + 10
        rows = screw(np.abs(x) - along, np.abs(y) - 37, z)
        beside = np.clip(np.rint(y / 22), -1, 1) * 22
        return np.minimum(rows, screw(np.abs(x) - 57, (y - beside).astype(np.float32), z))

    dark = Surface(linear("#4b4e52"), 1.1, 34, streak=0, raster_mm=0, grit=0.03)
    bright = Surface(linear("#b9bcc0"), 2.0, 40, streak=0, raster_mm=0, grit=0.03)
    return Part(frame, dark), Part(heads, bright)


def resin_film_cloudy(ask: Request) -> Shot:
    """Return an empty resin vat; its clear film has a milky patch with a dent in the middle."""
    cx, cy = ask.vary(-10, 10), ask.vary(-6, 6)

    def film(x: Floats, y: Floats, albedo: Floats) -> tuple[Floats, Floats]:
        away = np.hypot((x - cx) / 1.35, y - cy) + 3.2 * smooth_noise(x * 0.25, y * 0.25, 4)
        milky = 0.62 * (1 - ramp(away, 6, 22)) + 0.03
        milky = milky * np.clip(0.9 + 0.15 * noise(x * 3, y * 3, 1), 0, 1)
        dent = np.hypot(x - cx - 4, (y - cy + 2) * 1.4)
        ring = np.exp(-(((dent - 4.2) / 0.8) ** 2))
        side = np.clip((x - cx - 4 - (y - cy + 2)) / 6, -1, 1)
        scratch = (
            np.exp(-((np.abs(y - 0.35 * x - 9) / 0.25) ** 2))
            * ramp(x, -30, -20)
            * (1 - ramp(x, 2, 14))
        )
        tone = 0.62 + 0.34 * side * ring + 0.3 * np.exp(-((dent / 1.3) ** 2))
        color = np.clip(tone, 0.1, 1)[:, None] * np.array([0.78, 0.80, 0.80], dtype=np.float32)
        cover = np.clip(np.maximum(milky, 0.75 * ring) + 0.25 * scratch, 0, 0.92)
        inside = (np.abs(x) < 53) & (np.abs(y) < 33)
        return color.astype(np.float32), (cover * inside).astype(np.float32)

    camera = (
        ask.camera((cx, cy, 2), 92, 44, 10)
        if ask.view == "close"
        else ask.camera((0, 0, 3), 205, 44, 14)
    )
    floor = Floor("glass", 300, -260, 230, film)
    return Shot(_vat(), camera, (0, 0, 7), 78, (), floor, ask.light(-1, 0.8), "workshop", 2.0, 0.15)


def resin_pancake(ask: Request) -> Shot:
    """Return a resin vat with a flat cured slab stuck to the film at its bottom."""
    cx, cy = ask.vary(-8, 8), ask.vary(-4, 4)
    code = COLORS[ask.color]

    def pool(x: Floats, y: Floats, albedo: Floats) -> tuple[Floats, Floats]:
        inside = (np.abs(x) < 53) & (np.abs(y) < 33)
        wet = np.clip(0.55 + 0.3 * smooth_noise(x * 0.12, y * 0.12, 4), 0.2, 0.85)
        color = np.tile(np.asarray(linear(code), np.float32) * 0.55, (x.size, 1))
        return color.astype(np.float32), (wet * inside).astype(np.float32)

    def slab(x: Floats, y: Floats, z: Floats) -> Floats:
        turn = np.arctan2(y - cy, x - cx)
        wave = 0.9 * np.sin(turn * 3 + 1) + 0.5 * np.sin(turn * 7 + 2) + 0.3 * np.sin(turn * 16)
        qx, qy = np.abs(x - cx) - 16, np.abs(y - cy) - 9
        side = np.hypot(np.maximum(qx, 0), np.maximum(qy, 0)) + np.minimum(np.maximum(qx, qy), 0)
        return np.maximum((side - 5 - wave) * 0.7, z - 1.8).astype(np.float32)

    rim = turned([0, 2.6, 3.2], [8.5, 8.2, 7.6], (cx - 4, cy + 2))
    shape = melt(0.8, slab, cut(rim, turned([2.0, 5], [6.6, 6.4], (cx - 4, cy + 2))))
    resin = _resin(code)
    camera = (
        ask.camera((cx, cy, 2), 96, 38, 12)
        if ask.view == "close"
        else ask.camera((0, 0, 3), 205, 43, 14)
    )
    floor = Floor("glass", 300, -260, 230, pool)
    parts = (*_vat(), Part(shape, resin))
    return Shot(parts, camera, (0, 0, 7), 78, (), floor, ask.light(-1, 0.8), "workshop", 2.0, 0.12)


def resin_soft_detail(ask: Request) -> Shot:
    """Return a small owl in resin whose feathers and eyes are blurred, as if half melted."""
    body = melt(5, ball((0, 0, 17), 13, (1, 0.85, 1.25)), ball((0, -1, 35), 9.5, (1.1, 0.95, 0.9)))
    ears = melt(
        3, rod((-6, 0, 40), (-8.5, 0, 47), 2.6, 0.9), rod((6, 0, 40), (8.5, 0, 47), 2.6, 0.9)
    )
    eyes = join(ball((-4, -9.0, 36), 3.4, (1, 0.6, 1)), ball((4, -9.0, 36), 3.4, (1, 0.6, 1)))
    beak = rod((0, -10.4, 34), (0, -11.2, 31), 1.4, 0.5)
    wings = join(ball((-11, -1, 18), 8, (0.5, 0.8, 1.5)), ball((11, -1, 18), 8, (0.5, 0.8, 1.5)))
    base = turned([0, 2.5, 3], [15, 15, 14])

    def feathers(x: Floats, y: Floats, z: Floats) -> Floats:
        row = np.sin(z * 1.25 + 1.8 * np.abs(np.sin(x * 0.75)))
        chest = ramp(-y, 2, 7) * (1 - ramp(z, 26, 29)) * ramp(z, 5, 8)
        return (0.28 * row * chest).astype(np.float32)

    owl = swollen(melt(2.6, body, ears, eyes, beak, wings), feathers, 0.75)
    shape = layered(melt(1.5, owl, base), Layers(0.25, 0.012))
    camera = (
        ask.camera((0, -6, 31), 66, 12, 10)
        if ask.view == "close"
        else ask.camera((0, 0, 23), 140, 15, 16)
    )
    plastic = ask.plastic(shine=0.75, tightness=40, layer_mm=0, raster_mm=0, grit=0)
    return Shot(
        (Part(shape, plastic),),
        camera,
        (0, 0, 23),
        36,
        (),
        ask.bench(),
        ask.light(),
        "workshop",
        3.0,
        0.15,
    )
