"""Scenes of weak walls, seams, bridges, supports and prints that stopped."""

# Arithmetic of float arrays and plain numbers is "Any" in numpy's own annotations.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import numpy as np

from fixtures_demo.render.fields import (
    Field,
    Floats,
    Layers,
    between,
    box,
    cut,
    join,
    layered,
    moved,
    rod,
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
from fixtures_demo.render.subject import Part, Shot


def _thinned(count: int, ask: Request, least: float, most: float) -> Layers:
    """Return layers of which every one is starved, some more than others."""
    lay = layers(count, ask.rng, jitter=0.05)
    lack = ask.rng.uniform(least, most, count).astype(np.float32)
    return Layers(lay.height, lay.height * 0.3, lay.grow - lack, lay.dx, lay.dy)


def _torn_lines(chance: float, depth: float) -> Field:
    """Return a growth that bites short gaps along the lines of every layer."""

    def torn(x: Floats, y: Floats, z: Floats) -> Floats:
        row = np.floor(z / LAYER_MM)
        gap = noise((x * 0.8 + y) * 0.5 + row * 17.0, row * 3.0, 1)
        return (-depth * ramp(gap, chance, chance + 0.15)).astype(np.float32)

    return torn


def gaps_everywhere(ask: Request) -> Shot:
    """Return a tray with bites and gaps in the lines of all its layers, from bottom to top."""
    tray = layered(open_tray(30, 22, 26, 2.6), _thinned(80, ask, 0.0, 0.35))
    shape = swollen(tray, _torn_lines(0.35, 1.5), 0.7)
    camera = (
        ask.camera((6, -20, 13), 74, 12, 24)
        if ask.view == "close"
        else ask.camera((0, 0, 11), 160, 24, 28)
    )
    return Shot((Part(shape, ask.plastic()),), camera, (0, 0, 13), 44, (), ask.plate(), ask.light())


def under_extruded_walls(ask: Request) -> Shot:
    """Return a thin-walled cup whose walls have slits, so that light comes through."""
    outer, inner = turned([0, 44], [19, 22]), turned([2, 48], [17.6, 21])
    lay = layers(120, ask.rng, jitter=0.10)
    lay = Layers(lay.height, lay.height * 0.34, lay.grow - 0.15, lay.dx, lay.dy)

    def slits(x: Floats, y: Floats, z: Floats) -> Floats:
        row = np.floor(z / LAYER_MM)
        turn = np.arctan2(y, x) * 14
        open_row = noise(row * 5.0, row * 9.0) > 0.2
        gap = noise(turn + row * 31.0, row * 3.0, 2)
        return (-1.5 * open_row * ramp(gap, 0.2, 0.5)).astype(np.float32)

    shape = swollen(layered(cut(outer, inner), lay), slits, 0.6)
    camera = (
        ask.camera((2, -16, 24), 74, 10, 12)
        if ask.view == "close"
        else ask.camera((0, 0, 20), 150, 24, 14)
    )
    light = ask.light(1, 0.6)
    return Shot((Part(shape, ask.plastic()),), camera, (0, 0, 22), 38, (), ask.plate(), light)


def seam_ridge(ask: Request) -> Shot:
    """Return a cylinder with a ridge of small lumps running straight up one side."""
    count = 130
    jitter = ask.rng.normal(0, 0.35, count).astype(np.float32)
    lump = ask.rng.uniform(0.5, 1.1, count).astype(np.float32)
    where = -1.35

    def ridge(x: Floats, y: Floats, z: Floats) -> Floats:
        row = np.clip(np.floor(z / LAYER_MM), 0, count - 1).astype(np.int32)
        across = (np.arctan2(y, x) - where) * 17 - jitter[row]
        return (0.95 * lump[row] * np.exp(-((across / 0.85) ** 2))).astype(np.float32)

    body = turned([0, 3, 40, 46], [18, 17, 17, 19])
    shape = swollen(layered(body, layers(count, ask.rng, jitter=0.012)), ridge, 0.8)
    camera = (
        ask.camera((3, -17, 24), 66, 10, -2)
        if ask.view == "close"
        else ask.camera((0, 0, 22), 150, 18, -2)
    )
    light = ask.light(-1, 0.55)
    return Shot((Part(shape, ask.plastic()),), camera, (0, 0, 23), 36, (), ask.plate(), light)


def bridge_sag(ask: Request) -> Shot:
    """Return two pillars with a bridge between them whose underside hangs in loose strands."""
    gap = 24.0
    pillars = [box((side * (gap + 7), 0, 15), (7, 10, 15), 0.8) for side in (-1, 1)]
    deck = box((0, 0, 32.4), (gap + 14, 10, 2.2), 0.6)
    shape = layered(join(*pillars, deck), layers(90, ask.rng))
    strands = []
    for k in range(46):
        y = -9.6 + 19.2 * k / 45
        low = 1.2 + 6.0 * float(ask.vary(0, 1)) ** 2
        hang = sag((-gap - 0.3, y, 30.0), (gap + 0.3, y + ask.vary(-0.6, 0.6), 30.0), low, ask.rng)
        strands.append(ask.thread(hang, ask.vary(0.26, 0.36)))
    camera = (
        ask.camera((0, -8, 27), 92, 0.5, 10)
        if ask.view in ("close", "below")
        else ask.camera((0, 0, 18), 165, 7, 16)
    )
    light = ask.light(-1, 0.55)
    part = Part(shape, ask.plastic())
    return Shot((part,), camera, (0, 0, 17), 48, tuple(strands), ask.plate(), light)


def support_fallen(ask: Request) -> Shot:
    """Return a bracket with an arm; its support lies toppled and the arm's underside is ragged."""
    post = box((-20, 0, 22), (9, 9, 22), 1.0)
    arm = box((6, 0, 38), (22, 9, 6), 1.0)
    body = layered(join(post, arm), layers(120, ask.rng))
    zigzag = [box((0, -6 + 2.4 * k, 13), (5.5, 0.45, 13), 0.2) for k in range(6)]
    standing = layered(join(*zigzag), layers(80, ask.rng, jitter=0.05))
    fallen = moved(spun(spun(standing, 90, "y"), -24), (4, -26, 5.8))
    strands = []
    for _ in range(60):
        x, y = ask.vary(-8, 27), ask.vary(-8.5, 8.5)
        end = (min(x + ask.vary(4, 14), 28), y + ask.vary(-2, 2), 32.0)
        strands.append(ask.thread(sag((x, y, 32), end, ask.vary(0.5, 7), ask.rng), 0.3))
    for _ in range(8):
        hair = wisp((ask.vary(4, 18), ask.vary(-8, 4), 0.5), (0.6, -0.4, 0.2), ask.rng)
        strands.append(ask.thread(hair, 0.3))
    camera = (
        ask.camera((8, -8, 26), 92, 6, 14)
        if ask.view == "close"
        else ask.camera((2, -6, 18), 170, 18, 16)
    )
    parts = (Part(body, ask.plastic()), Part(fallen, ask.plastic(layer_mm=0, raster_mm=0)))
    return Shot(parts, camera, (2, -10, 20), 52, tuple(strands), ask.plate(), ask.light())


def air_print_stop(ask: Request) -> Shot:
    """Return a tower that ends part way up in starved layers and a few wisps."""
    stop = int(ask.vary(58, 72))
    rows = np.arange(160, dtype=np.float32)
    lay = layers(160, ask.rng)
    lack = 0.9 * ramp(rows, stop - 9, stop)
    lay = Layers(lay.height, lay.bead, lay.grow - lack.astype(np.float32), lay.dx, lay.dy)
    top = stop * LAYER_MM

    def ragged(x: Floats, y: Floats, z: Floats) -> Floats:
        edge = top + 1.1 * np.clip(smooth_noise(x * 0.5 + 30, y * 0.5 + 9, 3), -1.5, 1.2)
        return ((edge - z) * 0.6).astype(np.float32)

    def between_lines(x: Floats, y: Floats, z: Floats) -> Floats:
        grid = np.minimum(np.abs((x + y) % 6.4 - 3.2), np.abs((x - y) % 6.4 - 3.2))
        return np.maximum(0.45 - 0.7 * grid, top - 7 - z).astype(np.float32)

    inside = turned([5, 90], [11.2, 9.5])
    opening = between(inside, top - 7, 99)
    shell = cut(rook(66), opening)
    infill = cut(inside, between_lines)
    shape = layered(cut(join(shell, infill), ragged), lay)
    strands = [
        ask.thread(
            wisp(
                (ask.vary(-12, 12), ask.vary(-10, 4), top - 0.6),
                (ask.vary(-1, 1), ask.vary(-1, 0.3), 0.3),
                ask.rng,
            ),
            0.14,
        )
        for _ in range(12)
    ]
    camera = (
        ask.camera((0, -4, top - 2), 80, 32, 12)
        if ask.view in ("close", "top")
        else ask.camera((0, 0, 20), 150, 26, 14)
    )
    part = Part(shape, ask.plastic())
    return Shot((part,), camera, (0, 0, 18), 36, tuple(strands), ask.plate(), ask.light())


def oval_holes(ask: Request) -> Shot:
    """Return an upright panel with three round holes that came out flat at the top and oval."""
    panel = box((0, 0, 20), (34, 5, 20), 1.2)
    foot = box((0, 0, 2), (34, 13, 2), 1.0)

    def hole(cx: float, radius: float) -> Field:
        def distance(x: Floats, y: Floats, z: Floats) -> Floats:
            up = z - 22
            tall = np.where(up > 0, 0.72, 0.97)
            dx, dz = (x - cx) / 1.08, up / tall
            return ((np.sqrt(dx * dx + dz * dz) - radius) * 0.7).astype(np.float32)

        return distance

    holes = [hole(-21, 8.4), hole(0, 6.6), hole(19, 9.4)]
    shape = layered(cut(join(panel, foot), *holes), layers(100, ask.rng))
    strands = []
    for cx, radius in ((-21, 8.4), (0, 6.6), (19, 9.4)):
        for _ in range(10):
            half = ask.vary(0.3, 0.75) * radius
            y = ask.vary(-4.8, 4.8)
            z = 22 + 0.72 * np.sqrt(radius**2 - half**2)
            hang = sag((cx - half, y, z), (cx + half, y, z), ask.vary(0.3, 1.7), ask.rng)
            strands.append(ask.thread(hang, 0.24))
    camera = (
        ask.camera((-10, -5, 23), 74, 6, -8)
        if ask.view == "close"
        else ask.camera((0, 0, 18), 150, 14, -14)
    )
    part = Part(shape, ask.plastic())
    return Shot((part,), camera, (0, 0, 20), 44, tuple(strands), ask.plate(), ask.light())


def wet_foamy_surface(ask: Request) -> Shot:
    """Return a cup whose wall is dull, pitted and fuzzy, as if the plastic had foamed."""
    body = cut(turned([0, 5, 40, 44], [16, 18, 20, 20]), turned([3, 48], [16, 18]))
    lay = layers(120, ask.rng, jitter=0.07)

    def foam(x: Floats, y: Floats, z: Floats) -> Floats:
        turn = np.arctan2(y, x) * 19
        pits = smooth_noise(turn * 3.2, z * 3.0, 1)
        small = smooth_noise(turn * 6.1, z * 5.4, 1)
        return (-0.5 * ramp(pits, 1.0, 1.6) + 0.07 * small + 0.10 * np.clip(pits, -1, 1)).astype(
            np.float32
        )

    shape = swollen(layered(body, lay), foam, 0.65)
    strands = [
        ask.thread(
            wisp(
                (20.2 * np.cos(a), 20.2 * np.sin(a), ask.vary(3, 44)),
                (np.cos(a), np.sin(a), -0.2),
                ask.rng,
                int(ask.vary(6, 16)),
            ),
            0.06,
        )
        for a in ask.rng.uniform(3.1, 6.4, 70)
    ]
    camera = (
        ask.camera((2, -18, 26), 58, 10, 10)
        if ask.view == "close"
        else ask.camera((0, 0, 20), 145, 20, 14)
    )
    plastic = ask.plastic(shine=0.12, streak=0.1, grit=0.16)
    part = Part(shape, plastic)
    return Shot((part,), camera, (0, 0, 22), 36, tuple(strands), ask.plate(), ask.light())


def _lattice_stand() -> Field:
    """Return a stand for a reel: two open frames joined by a rod."""
    frames: list[Field] = []
    for y in (-17, 17):
        frames += [
            rod((-24, y, 3), (0, y, 44), 3.0),
            rod((24, y, 3), (0, y, 44), 3.0),
            rod((-24, y, 3), (24, y, 3), 3.0),
            rod((-12.5, y, 22), (12.5, y, 22), 2.2),
        ]
    return join(*frames, rod((0, -24, 45), (0, 24, 45), 4.2))


def good_print(ask: Request) -> Shot:
    """Return a sound print: even layers, clean edges, nothing missing."""
    kind = ask.pick("rook", "vase", "tray", "stand", "box")
    top, size = {
        "rook": (58, 36),
        "vase": (70, 44),
        "tray": (18, 46),
        "stand": (46, 42),
        "box": (34, 40),
    }[kind]
    shapes: dict[str, Field] = {
        "rook": rook(),
        "vase": vase(70),
        "tray": open_tray(38, 26, 16),
        "stand": _lattice_stand(),
        "box": join(open_tray(24, 18, 30), box((0, 0, 30), (25.5, 19.5, 2), 1.0)),
    }
    shape = layered(shapes[kind], layers(190, ask.rng, jitter=0.008))
    middle = top * 0.47
    distance = {"rook": 160, "vase": 190, "tray": 165, "stand": 185, "box": 150}[kind]
    if ask.view == "close":
        camera = ask.camera((0, -10, middle * 1.1), distance * 0.5, 16, 24)
    elif ask.view == "top":
        camera = ask.camera((0, 0, middle), distance, 58, 24)
    else:
        camera = ask.camera((0, 0, middle), distance, 22, 26)
    part = Part(shape, ask.plastic(streak=0.025))
    return Shot(
        (part,),
        camera,
        (0, 0, top / 2),
        size + 8,
        (),
        ask.bench(),
        ask.light(),
        ask.pick("workshop", "printer"),
    )
