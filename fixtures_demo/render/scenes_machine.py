"""Scenes of machine parts and filament: a plug, a nozzle, a hot end, a strand."""

# Arithmetic of float arrays and plain numbers is "Any" in numpy's own annotations.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from fixtures_demo.render.fields import (
    Field,
    Floats,
    ball,
    box,
    cut,
    join,
    melt,
    moved,
    prism,
    rod,
    spun,
    swollen,
    turned,
)
from fixtures_demo.render.grain import ramp, smooth_noise
from fixtures_demo.render.scene_kit import Request, wisp
from fixtures_demo.render.subject import Floor, Part, Shot, Surface, linear

METAL = Surface(linear("#8f9296"), 1.5, 40, streak=0, raster_mm=0, grit=0.05)
BRASS = Surface(linear("#b08a45"), 1.7, 50, streak=0, raster_mm=0, grit=0.04)


def _mixed(base: str, marks: list[tuple[str, Floats]]) -> Floats:
    """Return colours that start from ``base`` and are laid over with marks of given cover."""
    color: Floats = np.tile(np.asarray(linear(base), dtype=np.float32), (marks[0][1].size, 1))
    for code, cover in marks:
        over = np.asarray(linear(code), dtype=np.float32)
        color = color * (1 - cover[:, None]) + over * cover[:, None]
    return color.astype(np.float32)


def scorched_plug(ask: Request) -> Shot:
    """Return a white two-pole plug on a bench, browned and blackened round one pole."""
    shell = box((0, 0, 6), (15, 10, 6), 1.6)
    one_rib = box((0, -10.2, 6), (0.9, 0.7, 4.5), 0.4)

    def ribs(x: Floats, y: Floats, z: Floats) -> Floats:
        nearest = np.clip(np.rint(x / 4.5), -2, 2) * 4.5
        return one_rib((x - nearest).astype(np.float32), y, z)

    tongue = box((0, 0, 12.4), (5, 7, 0.9), 0.5)
    mouths = [box((15, side * 4.6, 6), (7, 2.9, 3.1), 0.6) for side in (-1, 1)]
    hurt = ball((16.5, -4.8, 8.6), 2.6, (1.0, 1.1, 0.9))

    def sunk(x: Floats, y: Floats, z: Floats) -> Floats:
        near = np.exp(-((x - 13) ** 2 + (y + 7) ** 2 + (z - 9) ** 2) / 30)
        return (near * (0.7 * smooth_noise(x * 1.7, (y + z) * 1.7, 3) - 0.7)).astype(np.float32)

    body = swollen(cut(join(shell, ribs, tongue), *mouths, hurt), sunk, 0.75)

    def scorch(x: Floats, y: Floats, z: Floats) -> Floats:
        away = np.sqrt((x - 14.5) ** 2 + (y + 6) ** 2 + (z - 8.5) ** 2)
        away = away + 1.3 * smooth_noise(x * 1.2, (y + z) * 1.2, 3)
        return _mixed(
            "#dedbd0",
            [
                ("#c9a05a", 0.85 * (1 - ramp(away, 5, 15))),
                ("#5d3414", 1 - ramp(away, 3.5, 9.5)),
                ("#0f0c0a", 1 - ramp(away, 2.0, 6.2)),
                (
                    "#2b2824",
                    0.9
                    * ramp(14.2 - x, 0.0, 3.0)
                    * ramp(x, 8, 9)
                    * ramp(3.7 - np.abs(z - 6), 0.0, 0.3)
                    * ramp(3.5 - np.abs(np.abs(y) - 4.6), 0.0, 0.3),
                ),
            ],
        )

    pins = join(*(box((11, side * 4.6, 6), (2.4, 0.55, 1.6), 0.25) for side in (-1, 1)))
    bends = [(-15, 0), (-29, 2), (-44, 11), (-62, 20)]
    cables: list[Part] = []
    for side, code in ((-1, "#b3261e"), (1, "#222326")):
        spots = [
            (x, side * 4.2 + y * (1 + 0.12 * side), 6 - min(2.6, (-x - 15) / 9)) for x, y in bends
        ]
        pieces = [rod(a, b, 2.6) for a, b in pairwise(spots)]
        cables.append(Part(join(*pieces), Surface(linear(code), 0.5, 24, raster_mm=0)))
    white = Surface(linear("#dedbd0"), 0.45, 26, raster_mm=0, grit=0.02).painted(scorch)
    close = ask.view == "close"
    camera = ask.camera((9, -3, 7), 50, 26, 42) if close else ask.camera((-3, 0, 4), 88, 33, 34)
    parts = (
        Part(body, white),
        Part(pins, replace(METAL, color=linear("#6c6659"), shine=0.7)),
        *cables,
    )
    floor = Floor(ask.pick("bench", "mat", "paper"), 260, -260, 230)
    return Shot(parts, camera, (-12, 3, 6), 56, (), floor, ask.light(-1), "workshop", 3.0, 0.08)


def offcentre_nozzle(ask: Request) -> Shot:
    """Return a brass nozzle seen from its tip; the bore is plainly to one side of the flat."""
    off_x, off_y = ask.vary(0.42, 0.55), ask.vary(-0.2, 0.2)
    hexagon = prism(6, 6.2, 0, 6)
    cone = turned([6, 6.01, 10.2, 10.6], [5.4, 5.4, 1.75, 1.65])
    bore = turned([6, 14], [0.62, 0.62], (off_x, off_y))
    thread = turned([-8, 0], [4.6, 4.6])
    shape = cut(join(hexagon, cone, thread), bore)
    lifted = moved(shape, (0, 0, 8))

    def tarnish(x: Floats, y: Floats, z: Floats) -> Floats:
        soot = ramp(z, 14.2, 17.5) * np.clip(0.6 + 0.5 * smooth_noise(x * 3, y * 3, 3), 0, 0.92)
        tip = ramp(z, 18.3, 18.5)
        deep = (np.hypot(x - off_x, y - off_y) < 0.7) & (z < 18.45)
        return _mixed(
            "#b08a45",
            [("#4a3018", soot * (1 - tip)), ("#c39c55", tip), ("#050404", deep.astype(np.float32))],
        )

    brass = BRASS.painted(tarnish)
    camera = (
        ask.camera((0, 0, 17), 17, 66, 10)
        if ask.view == "close"
        else ask.camera((0, 0, 13), 40, 56, 12)
    )
    floor = Floor(ask.pick("cloth", "mat"), 260, -260, 230)
    return Shot(
        (Part(lifted, brass),),
        camera,
        (0, 0, 9),
        13,
        (),
        floor,
        ask.light(-1),
        "workshop",
        3.0,
        0.03,
    )


def speck_in_strand(ask: Request) -> Shot:
    """Return a piece of filament on paper with a bright metal splinter stuck in it."""
    bends = [(x, -0.0062 * x * x) for x in np.linspace(-32, 32, 9).tolist()]
    pieces: list[Field] = [
        rod((a[0], a[1], 1.75), (b[0], b[1], 1.75), 1.75) for a, b in pairwise(bends)
    ]
    sliver = join(
        spun(box((0, 0, 0), (1.2, 0.30, 0.26), 0.05), 34, "z"),
        spun(spun(box((0.3, 0.1, 0), (0.7, 0.34, 0.22), 0.05), 78, "z"), 28, "x"),
    )
    speck = moved(spun(sliver, 22, "y"), (2.2, -0.75, 3.12))
    dent = ball((2.2, -0.75, 3.6), 1.1, (1.3, 0.9, 0.8))

    def dirt(x: Floats, y: Floats, z: Floats) -> Floats:
        near = np.exp(-((x - 2.2) ** 2 + (y + 0.75) ** 2) / 2.2)
        base = np.tile(np.asarray(ask.tint, dtype=np.float32), (x.size, 1))
        return (base * (1 - 0.55 * near)[:, None]).astype(np.float32)

    plastic = ask.plastic(layer_mm=0, raster_mm=0, grit=0.01).painted(dirt)
    shine = Surface(linear("#8b9094"), 2.6, 20, streak=0, raster_mm=0, grit=0.3)
    camera = (
        ask.camera((1.5, -0.5, 2), 21, 40, 8)
        if ask.view == "close"
        else ask.camera((0, 0, 1), 48, 46, 8)
    )
    parts = (Part(cut(join(*pieces), dent), plastic), Part(speck, shine))
    floor = Floor("paper", 260, -260, 230)
    return Shot(parts, camera, (0, 0, 2), 36, (), floor, ask.light(-1), "workshop", 4.0, 0.03)


def melt_above_block(ask: Request) -> Shot:
    """Return a hot end whose block is buried from above in a lump of melted plastic."""
    block = box((0, 0, 21), (11, 8, 6), 0.6)
    screw = rod((-7, -8.4, 21), (-7, -7, 21), 1.3)
    nozzle = join(prism(6, 3.6, 11.5, 15.2), turned([8, 11.5], [0.8, 3.2]))
    neck = turned([27, 33], [2.2, 2.2])
    fin, core = turned([33, 34.3], [9.5, 9.5]), turned([33, 49], [4, 4])

    def fins(x: Floats, y: Floats, z: Floats) -> Floats:
        level = np.clip(np.rint((z - 33.6) / 2.6), 0, 5) * 2.6
        return np.minimum(core(x, y, z), fin(x, y, z - level))

    lumps = [
        ball((-3, -2, 28), 6.0, (1.3, 1.2, 0.7)),
        ball((5, 1, 29), 5.0, (1.2, 1.3, 0.8)),
        ball((1, -6, 26.5), 4.0, (1.3, 0.8, 0.8)),
        ball((-9, -5, 25.5), 3.6, (0.9, 1, 1.1)),
        rod((-9.5, -7.6, 25), (-10, -8.2, 16.5), 1.7, 1.1),
        rod((7, -8.2, 26), (7.5, -8.8, 20), 1.6, 0.9),
        ball((0, 0, 31), 4.2),
    ]

    def lumpy(x: Floats, y: Floats, z: Floats) -> Floats:
        return (
            0.5 * np.clip(smooth_noise(x * 0.9 + z * 0.4, y * 0.9 + z * 0.5, 4), -1.5, 1.5)
        ).astype(np.float32)

    mass = swollen(melt(2.4, *lumps), lumpy, 0.7)
    tint = np.asarray(ask.tint, dtype=np.float32)

    def burnt(x: Floats, y: Floats, z: Floats) -> Floats:
        low = (1 - ramp(z, 20, 30)) * 0.75
        spots = np.clip(low + 0.22 * smooth_noise(x * 1.4, (y + z) * 1.4, 4), 0, 0.92)[:, None]
        return (tint * (1 - spots) + np.asarray(linear("#2a1a0c"), np.float32) * spots).astype(
            np.float32
        )

    plastic = ask.plastic(layer_mm=0, raster_mm=0, grit=0.02, shine=0.8, tightness=40).painted(
        burnt
    )
    wires = join(
        rod((11, 2, 21), (19, 3, 24), 1.2),
        rod((19, 3, 24), (24, 5, 36), 1.2),
        rod((24, 5, 36), (22, 6, 54), 1.2),
    )
    cloth = Surface(linear("#c9c4b4"), 0.1, 10, raster_mm=0)
    parts = (
        Part(join(block, screw, neck), METAL),
        Part(nozzle, BRASS),
        Part(fins, METAL),
        Part(mass, plastic),
        Part(wires, cloth),
    )
    hair = wisp((-10, -8.2, 16.4), (0.1, 0, -1), ask.rng, 26)
    strands = (ask.thread(hair, 0.25),)
    camera = (
        ask.camera((0, -4, 25), 56, 8, 16)
        if ask.view == "close"
        else ask.camera((2, 0, 25), 94, 7, 18)
    )
    return Shot(
        parts, camera, (2, 0, 30), 34, strands, ask.plate(), ask.light(-1), "printer", 3.0, 0.08
    )
