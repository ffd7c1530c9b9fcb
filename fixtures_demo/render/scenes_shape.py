"""Scenes of prints that moved, warped, strung, sagged or came off the plate."""

# Arithmetic of float arrays and plain numbers is "Any" in numpy's own annotations.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import numpy as np

from fixtures_demo.render.fields import (
    Floats,
    Layers,
    ball,
    bent,
    between,
    box,
    cut,
    join,
    layered,
    leaning,
    melt,
    moved,
    spun,
    swollen,
    turned,
)
from fixtures_demo.render.grain import noise, ramp, smooth_noise
from fixtures_demo.render.scene_kit import (
    LAYER_MM,
    Request,
    layers,
    open_tray,
    rook,
    sag,
    vase,
    wisp,
)
from fixtures_demo.render.subject import Part, Shot, Strand


def layer_shift(ask: Request) -> Shot:
    """Return a tower whose upper part was printed several millimetres to the side."""
    at = LAYER_MM * round(ask.vary(24, 28.5) / LAYER_MM)
    step = ask.vary(4.2, 5.6)
    tower = rook()
    lay = layers(150, ask.rng)
    lower = layered(between(tower, -1, at), lay)
    upper = layered(moved(between(tower, at, 90), (step, -0.8, 0)), lay)
    shape = join(lower, upper)
    if ask.view == "close":
        camera = ask.camera((step / 2, -4, at), 95, 12, 8)
    elif ask.view == "top":
        camera = ask.camera((2, 0, 28), 130, 58, 12)
    else:
        camera = ask.camera((2, 0, 27), 165, 20, 14)
    return Shot((Part(shape, ask.plastic()),), camera, (2, 0, 29), 40, (), ask.plate(), ask.light())


def knocked_over(ask: Request) -> Shot:
    """Return a tower lying on its side next to the thin brim it stood on."""
    tower = layered(rook(52), layers(140, ask.rng))
    lying = moved(spun(spun(tower, 90, "y"), ask.vary(18, 40)), (-14, 6, 15.6))
    gone = turned([-1, 2], [15.3, 15.3], (-36, -24))
    brim = cut(turned([0, 0.5], [24, 24], (-36, -24)), gone)
    rings = ask.plastic(layer_mm=0, raster_mm=0.9)
    strands = []
    for _ in range(7):
        turn = ask.vary(0, 6.28)
        start = np.array([-36 + 15.5 * np.cos(turn), -24 + 15.5 * np.sin(turn), 0.4])
        hair = wisp((start[0], start[1], 0.4), (ask.vary(-1, 1), ask.vary(-1, 1), 0.5), ask.rng)
        strands.append(ask.thread(hair, 0.28))
    target = (-8.0, -8.0, 8.0)
    camera = ask.camera(target, 190 if ask.view == "whole" else 130, 34, 6)
    parts = (Part(lying, ask.plastic(layer_mm=0, raster_mm=0)), Part(brim, rings))
    return Shot(parts, camera, (-8, -8, 8), 64, tuple(strands), ask.plate(), ask.light())


def warped_tray(ask: Request) -> Shot:
    """Return a shallow tray whose corners have curled up off the plate."""
    half_x, half_y, curl = 46.0, 30.0, ask.vary(5.5, 7.5)

    def lift(x: Floats, y: Floats) -> Floats:
        u, v = np.abs(x) / half_x, np.abs(y) / half_y
        corner = np.clip((u + v - 0.95), 0, 1.2)
        side = np.where(x > 0, 1.0, 0.55)
        return (curl * side * corner**1.7).astype(np.float32)

    tray = bent(layered(open_tray(half_x, half_y, 15), layers(60, ask.rng)), lift, 0.75)
    if ask.view == "close":
        camera = ask.camera((38, -26, 7), 95, 7, 32)
    elif ask.view == "top":
        camera = ask.camera((0, 0, 5), 200, 52, 18)
    else:
        camera = ask.camera((4, 0, 6), 195, 13, 30)
    return Shot((Part(tray, ask.plastic()),), camera, (0, 0, 9), 60, (), ask.plate(), ask.light(1))


def stringing_cones(ask: Request) -> Shot:
    """Return two tall cones with fine threads of plastic hanging between them."""
    gap, tall = 19.0, 46.0
    cone = [turned([0, 3, 3.1, tall], [13, 13, 11, 1.6], (side * gap, 0)) for side in (-1, 1)]
    shape = layered(join(*cone), layers(120, ask.rng))
    strands = []
    for _ in range(46):
        z = ask.vary(4, tall - 0.5)
        r = 11 - (11 - 1.6) * (z - 3) / (tall - 3)
        y = ask.vary(-0.6, 0.6) * r
        reach = np.sqrt(r * r - y * y)
        left = (-gap + reach, y, z)
        right = (gap - reach, y + ask.vary(-1, 1), z + ask.vary(-2, 2))
        strands.append(
            ask.thread(sag(left, right, ask.vary(0.1, 2.2), ask.rng), ask.vary(0.025, 0.085), 1.15)
        )
    for _ in range(26):
        side = -1 if ask.rng.random() < 0.5 else 1
        z = ask.vary(6, tall)
        r = 11 - (11 - 1.6) * (z - 3) / (tall - 3)
        hair = wisp((side * (gap - r), ask.vary(-1, 1), z), (-side * 0.9, -0.1, -0.4), ask.rng)
        strands.append(ask.thread(hair, ask.vary(0.03, 0.06), 1.15))
    close = ask.view == "close"
    camera = ask.camera((0, 0, 26 if close else 21), 78 if close else 150, 10 if close else 17, 6)
    part = Part(shape, ask.plastic())
    return Shot((part,), camera, (0, 0, 22), 42, tuple(strands), ask.plate(), ask.light(1, 0.6))


def _starved(layer_numbers: Floats, start: int, end: int) -> Floats:
    return ramp(layer_numbers, start, start + 2) * (1 - ramp(layer_numbers, end - 3, end))


def thin_spell_recovers(ask: Request) -> Shot:
    """Return a box with a band of starved, gappy layers half way up; above it is sound again."""
    first = int(ask.vary(38, 48))
    last = first + int(ask.vary(17, 22))
    rows = np.arange(130, dtype=np.float32)
    lay = layers(130, ask.rng)
    weak = _starved(rows, first, last)
    lay = Layers(lay.height, lay.bead, lay.grow - 0.6 * weak, lay.dx, lay.dy)

    def torn(x: Floats, y: Floats, z: Floats) -> Floats:
        row = np.floor(z / LAYER_MM)
        gap = noise((x + y) * 0.55 + row * 17.0, row * 3.0, 1)
        return (-0.9 * _starved(row, first, last) * (gap > 0.3)).astype(np.float32)

    body = turned([0, 46], [19, 19]) if ask.rng.random() < 0.4 else box((0, 0, 23), (21, 15, 23), 3)
    shape = swollen(layered(body, lay), torn, 0.8)
    z = (first + last) / 2 * LAYER_MM
    camera = (
        ask.camera((0, -8, z), 78, 12, 24)
        if ask.view == "close"
        else ask.camera((0, 0, 22), 150, 20, 26)
    )
    return Shot((Part(shape, ask.plastic()),), camera, (0, 0, 23), 36, (), ask.plate(), ask.light())


def sagging_underside(ask: Request) -> Shot:
    """Return a wide-lipped bowl on a foot, with loops of plastic drooping under the lip."""
    body = turned([0, 3, 16, 30, 31, 40], [12, 12, 11, 13, 31, 33])
    well = turned([33, 44], [20, 30])
    shape = layered(cut(body, well), layers(110, ask.rng, jitter=0.03))
    strands = []
    for _ in range(210):
        turn, r = ask.vary(0, 6.28), ask.vary(14, 30)
        span = ask.vary(0.2, 0.9)
        height = 30 + (r - 13) / 18
        ends = [(r * np.cos(a), r * np.sin(a), height) for a in (turn, turn + span)]
        loop = sag(ends[0], ends[1], 7.0 * ask.vary(0.35, 1.0) ** 3, ask.rng)
        strands.append(ask.thread(loop, ask.vary(0.22, 0.34)))
    if ask.view in ("close", "below"):
        camera = ask.camera((6, -22, 28), 85, -7, 12)
    else:
        camera = ask.camera((0, 0, 22), 160, 4, 12)
    light = ask.light(-1, 0.5)
    part = Part(shape, ask.plastic())
    return Shot((part,), camera, (0, 0, 20), 44, tuple(strands), ask.plate(), light)


def section_ring(ask: Request) -> Shot:
    """Return a smooth box with one raised ring all round, where the walls meet the floor above."""
    lay = layers(130, ask.rng, jitter=0.012)
    at = int(ask.vary(44, 60))
    grow = lay.grow.copy()
    grow[at : at + 3] += np.array([0.35, 0.62, 0.3], dtype=np.float32)
    lay = Layers(lay.height, lay.bead, grow, lay.dx, lay.dy)
    outer = box((0, 0, 22), (22, 16, 22), 2.5)
    inner = box((0, 0, 22 + (at + 1) * LAYER_MM), (20, 14, 22), 1.5)
    shape = layered(cut(outer, inner), lay)
    camera = (
        ask.camera((4, -14, at * LAYER_MM), 72, 10, 24)
        if ask.view == "close"
        else ask.camera((0, 0, 21), 150, 22, 28)
    )
    light = ask.light(-1, 1.1)
    return Shot((Part(shape, ask.plastic()),), camera, (0, 0, 22), 36, (), ask.plate(), light)


def elephant_foot(ask: Request) -> Shot:
    """Return a block whose first layers are squashed out wider than the rest."""
    lay = layers(100, ask.rng, jitter=0.015)
    rows = np.arange(100, dtype=np.float32)
    grow = (lay.grow + 1.6 * np.exp(-rows / 1.7)).astype(np.float32)
    lay = Layers(lay.height, lay.bead, grow, lay.dx, lay.dy)
    block = cut(box((0, 0, 16), (20, 14, 16), 1.0), turned([6, 40], [7, 7]))
    shape = layered(block, lay)
    camera = (
        ask.camera((12, -12, 4), 58, 9, 30)
        if ask.view == "close"
        else ask.camera((0, 0, 13), 130, 18, 30)
    )
    return Shot((Part(shape, ask.plastic()),), camera, (0, 0, 16), 32, (), ask.plate(), ask.light())


def ripples(ask: Request) -> Shot:
    """Return a box whose walls show faint waves that fade away from each sharp corner."""
    half = 22.0
    pitch, fade = ask.vary(3.0, 3.8), 8.5

    def wave(x: Floats, y: Floats, z: Floats) -> Floats:
        front = np.abs(y) > 14.2
        s = np.where(front, half - x, y + 15.0)
        near_slot = np.where(front & (x < -9), -9 - x, 1e3)
        out = 0.20 * np.exp(-s / fade) * np.cos(2 * np.pi * s / pitch)
        out = out + 0.18 * np.exp(-near_slot / fade) * np.cos(2 * np.pi * near_slot / pitch)
        return out.astype(np.float32)

    body = cut(box((0, 0, 20), (half, 15, 20), 0.4), box((-4, -15, 20), (5, 2, 11), 0.2))
    shape = swollen(layered(body, layers(110, ask.rng, jitter=0.008)), wave, 0.85)
    camera = (
        ask.camera((12, -15, 20), 72, 8, 16)
        if ask.view == "close"
        else ask.camera((0, 0, 19), 140, 14, 20)
    )
    light = ask.light(1, 0.35, 2.6)
    plastic = ask.plastic(streak=0.02)
    return Shot((Part(shape, plastic),), camera, (0, 0, 20), 36, (), ask.plate(), light)


def z_bands(ask: Request) -> Shot:
    """Return a tall vase with ribs that repeat evenly all the way up."""
    pitch = ask.vary(3.8, 4.6)
    rows = np.arange(230, dtype=np.float32)
    grow = 0.34 * np.sin(2 * np.pi * rows * LAYER_MM / pitch) + ask.rng.normal(0, 0.015, 230)
    lay = Layers(
        LAYER_MM,
        0.05,
        grow.astype(np.float32),
        np.zeros(230, np.float32),
        np.zeros(230, np.float32),
    )
    shape = layered(vase(78), lay)
    camera = (
        ask.camera((0, -14, 44), 90, 8, 12)
        if ask.view == "close"
        else ask.camera((0, 0, 38), 205, 14, 12)
    )
    light = ask.light(-1, 0.9)
    return Shot((Part(shape, ask.plastic()),), camera, (0, 0, 39), 50, (), ask.plate(), light)


def pillow_top(ask: Request) -> Shot:
    """Return a flat box whose top is puffed up in small cushions, some of them open holes."""

    def cushions(x: Floats, y: Floats) -> Floats:
        u, v = (x + y) / 6.2, (x - y) / 6.2
        puff = np.abs(np.sin(np.pi * u) * np.sin(np.pi * v))
        cell = noise(np.floor(u) + 60.0, np.floor(v) + 60.0)
        hole = (cell > 0.75) * ramp(puff + 0.09 * smooth_noise(x * 3, y * 3, 1), 0.55, 0.7)
        rim = ramp(np.minimum(30 - np.abs(x), 22 - np.abs(y)), 1.0, 3.5)
        high = 0.62 * puff + 0.10 * smooth_noise(x * 2, y * 2, 2) - 2.4 * hole
        return (high * rim).astype(np.float32)

    def top(x: Floats, y: Floats, z: Floats) -> Floats:
        return (cushions(x, y) * ramp(z, 7.0, 10.5)).astype(np.float32)

    body = swollen(layered(box((0, 0, 6), (30, 22, 6), 2.0), layers(40, ask.rng)), top, 0.5)
    if ask.view == "close":
        camera = ask.camera((4, -4, 11), 72, 34, 16)
    elif ask.view == "top":
        camera = ask.camera((0, 0, 8), 130, 62, 12)
    else:
        camera = ask.camera((0, 0, 7), 145, 33, 22)
    light = ask.light(-1, 0.42, 2.5)
    plastic = ask.plastic(raster_mm=0.7)
    return Shot((Part(body, plastic),), camera, (0, 0, 7), 42, (), ask.plate(), light)


def split_layers(ask: Request) -> Shot:
    """Return a tall box with two cracks where the layers have come apart."""
    lay = layers(170, ask.rng)
    cracks = [(int(ask.vary(45, 60)) * LAYER_MM, 1.0), (int(ask.vary(95, 115)) * LAYER_MM, -1.0)]

    def opening(x: Floats, y: Floats, z: Floats) -> Floats:
        d = np.full(x.shape, 9.0, dtype=np.float32)
        for height, side in cracks:
            wave = 0.4 * smooth_noise((x + y) * 0.5 + height, y * 0.5, 3)
            wide = 0.34 * np.clip(1.0 + (side * x - y) / 16, -0.6, 2.4) - 0.08 * np.abs(wave)
            d = np.minimum(d, np.abs(z - height - 0.06 * side * x - wave) - wide)
        return (d * 0.7).astype(np.float32)

    body = box((0, 0, 32), (17, 13, 32), 2.5)
    core = box((0, 0, 32), (11, 8, 31), 1.0)
    shape = join(cut(layered(body, lay), opening), core)
    camera = (
        ask.camera((8, -12, cracks[0][0]), 80, 10, 28)
        if ask.view == "close"
        else ask.camera((0, 0, 31), 180, 16, 30)
    )
    return Shot((Part(shape, ask.plastic()),), camera, (0, 0, 32), 44, (), ask.plate(), ask.light())


def blobs(ask: Request) -> Shot:
    """Return a tower with small lumps of plastic scattered over its wall."""
    shape = layered(turned([0, 4, 44, 50], [18, 16, 13, 15]), layers(125, ask.rng))
    drops = []
    for _ in range(75):
        z, turn = ask.vary(1, 48), ask.vary(3.0, 6.6)
        r = float(np.interp(z, [0, 4, 44, 50], [18, 16, 13, 15]))
        size = float(np.clip(ask.rng.lognormal(-0.75, 0.38), 0.22, 0.95))
        at = [(r + size * 0.2) * np.cos(turn), (r + size * 0.2) * np.sin(turn), z]
        tail = [at[0], at[1], at[2] - size * ask.vary(0.2, 1.0)]
        drops.append(ask.thread(np.array([at, tail], dtype=np.float32), size))
    camera = (
        ask.camera((2, -13, 28), 66, 10, 10)
        if ask.view == "close"
        else ask.camera((0, 0, 24), 155, 18, 14)
    )
    part = Part(shape, ask.plastic())
    return Shot((part,), camera, (0, 0, 25), 36, tuple(drops), ask.plate(), ask.light())


def spaghetti(ask: Request) -> Shot:
    """Return a short stump of a print under a nest of loose strands."""
    stump = layered(box((-6, 2, 5), (20, 15, 5), 2.0), layers(30, ask.rng, jitter=0.05))
    strands: list[Strand] = []
    for _ in range(60):
        here = np.array([ask.vary(-22, 26), ask.vary(-16, 16), ask.vary(4, 24)])
        heading, points = ask.vary(0, 6.28), []
        curl, phase = ask.vary(-0.35, 0.35), ask.vary(0, 6.28)
        for _ in range(120):
            curl = 0.95 * curl + ask.rng.normal(0, 0.05)
            heading += curl
            pull = -0.012 * (here[:2] - [2, 0])
            here = here + np.array(
                [
                    np.cos(heading) + pull[0] * 2,
                    np.sin(heading) + pull[1] * 2,
                    0.5 * np.sin(heading * 0.7 + phase) - 0.04 * (here[2] - 13),
                ]
            )
            here[2] = max(here[2], 0.4)
            points.append(here.copy())
        strands.append(ask.thread(np.array(points, dtype=np.float32), 0.34))
    distance = 95 if ask.view == "close" else 155
    elevation = 60 if ask.view == "top" else 27
    camera = ask.camera((1, 0, 9), distance, elevation, 14)
    part = Part(stump, ask.plastic())
    return Shot((part,), camera, (-6, 2, 5), 32, tuple(strands), ask.plate(), ask.light())


def melted_spire(ask: Request) -> Shot:
    """Return a church-like spire whose thin tip is a melted, drooping lump."""
    spire = turned([0, 14, 14.1, 16, 16.1, 52.4], [13, 12, 15, 15, 11, 1.5])

    def lean(z: Floats) -> tuple[Floats, Floats]:
        up = np.clip((z - 38) / 16, 0, 1)
        return (4.2 * up**2).astype(np.float32), (-1.0 * up**2).astype(np.float32)

    def lumps(x: Floats, y: Floats, z: Floats) -> Floats:
        soft = ramp(z, 38, 48)
        bump = np.clip(smooth_noise((x - y) * 1.6, z * 1.6, 3), -1, 1)
        return (soft * 0.4 * bump).astype(np.float32)

    tip = leaning(layered(spire, layers(150, ask.rng)), lean, 0.7)
    lump = melt(
        1.6,
        tip,
        ball((4.6, -1.2, 52.4), 3.2, (1.1, 1.0, 0.8)),
        ball((6.4, -2.2, 50.4), 2.1, (0.9, 0.9, 1.3)),
        ball((3.0, -1.6, 49.2), 2.6),
    )
    shape = swollen(lump, lumps, 0.7)
    drop = [
        ask.thread(
            np.array([[7.0, -3.6, 50], [7.3, -3.9, 47], [7.3, -4.0, 44.8]], dtype=np.float32), 0.62
        )
    ]
    camera = (
        ask.camera((2, 0, 50), 62, 14, 16)
        if ask.view == "close"
        else ask.camera((1, 0, 29), 170, 15, 20)
    )
    part = Part(shape, ask.plastic())
    return Shot((part,), camera, (1, 0, 31), 42, tuple(drop), ask.plate(), ask.light())
