"""Turn a shot into a picture: trace, light, soften, and add what a phone camera adds."""

# Arithmetic of float arrays and plain numbers is "Any" in numpy's own annotations.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageFilter

from fixtures_demo.render.backdrop import FLOORS, room
from fixtures_demo.render.camera import Camera
from fixtures_demo.render.fields import Field, Floats, join
from fixtures_demo.render.grain import blurred, noise, ramp
from fixtures_demo.render.march import Hits, normals, soft_shadow, trace
from fixtures_demo.render.strands import cast_shadow, draw_strands
from fixtures_demo.render.subject import Part, Shot, Surface

DRAWN_SHARE = 0.8  # pictures are drawn at this share of their size, then enlarged
SHADOW_PX = 4  # shadows are soft, so they are found for every fourth pixel only


@dataclass(frozen=True)
class _Seen:
    """The solid parts as seen: hits, normals, colours, and the share of light at each."""

    hits: Hits
    normal: tuple[Floats, Floats, Floats]


def shoot(shot: Shot, size: tuple[int, int], rng: np.random.Generator) -> Image.Image:
    """Return the picture of the shot."""
    width, height = (max(16, round(side * DRAWN_SHARE)) for side in size)
    solid = join(*(part.shape for part in shot.parts)) if shot.parts else None
    backdrop, floor_depth = _surroundings(shot, solid, width, height, rng)
    depth = floor_depth.copy()
    picture = _graded(backdrop)
    picture = _defocused(picture, floor_depth, shot)
    if solid is not None:
        hits = trace(solid, shot.camera, width, height, shot.center, shot.radius)
        in_front = hits.distance < floor_depth.ravel()[hits.pixel] + 0.05
        hits = Hits(*(column[in_front] for column in vars(hits).values()))
        if hits.pixel.size:
            light = _shaded(shot, solid, hits, backdrop)
            picture = _laid_over(picture, _graded(light), hits, width, height)
            depth.ravel()[hits.pixel] = hits.distance
    if shot.strands:
        glow, cover = draw_strands(shot.strands, shot.camera, shot.light, width, height, depth)
        shade = _graded(glow / np.maximum(cover, 1e-3)[..., None])
        picture = picture * (1 - cover[..., None]) + shade * cover[..., None]
    return _developed(picture, size, shot, rng)


def _surroundings(
    shot: Shot, solid: Field | None, width: int, height: int, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Return linear light of floor and room, and the distance to the floor (inf: none)."""
    camera = shot.camera
    dx, dy, dz = camera.rays(width, height)
    cx, cy, cz = (float(v) for v in camera.place)
    down = dz < -1e-3
    t = np.where(down, -cz / np.where(down, dz, -1), np.inf).astype(np.float32)
    x, y = np.where(down, dx * t, 0) + cx, np.where(down, dy * t, 0) + cy
    floor = shot.floor
    edge = np.minimum(floor.half_x - np.abs(x), np.minimum(y - floor.front, floor.back - y))
    on_floor = down & (edge > 0)
    edge_row = _row_of(camera, floor.back, width, height)
    picture = room(shot.backdrop, width, height, edge_row, rng)
    pixel = np.flatnonzero(on_floor.ravel())
    if pixel.size:
        light, gloss = _floor_light(
            shot, solid, pixel, x.ravel()[pixel], y.ravel()[pixel], width, height
        )
        sky = picture[::-1].reshape(-1, 3)
        view = -dz.ravel()[pixel]
        mirror = gloss * (0.06 + 0.94 * (1 - view) ** 4)
        light = light + sky[pixel] * mirror[:, None]
        rim = (1 - ramp(edge.ravel()[pixel], 0.3, 1.4)) * 0.35
        light = light * (1 + rim[:, None])
        picture.reshape(-1, 3)[pixel] = light
    return picture, np.where(on_floor, t, np.inf).astype(np.float32)


def _row_of(camera: Camera, y: float, width: int, height: int) -> float:
    """Return the picture row where the far edge of the floor lies."""
    far = np.array([[camera.target[0], y, 0.0]], dtype=np.float32)
    row = float(camera.project(far, width, height)[1][0])
    return row if abs(row) < 4 * height else -4.0 * height


def _floor_light(
    shot: Shot,
    solid: Field | None,
    pixel: np.ndarray,
    x: Floats,
    y: Floats,
    width: int,
    height: int,
) -> tuple[Floats, Floats]:
    floor, light = shot.floor, shot.light
    albedo, gloss = FLOORS[floor.kind](x, y)
    if floor.decal is not None:
        color, cover = floor.decal(x, y, albedo)
        albedo = albedo * (1 - cover[:, None]) + color * cover[:, None]
    open_share, nearby = np.ones_like(x), np.ones_like(x)
    if solid is not None:
        open_share, nearby = _floor_shade(shot, solid, pixel, x, y, width, height)
    if shot.strands:
        through = cast_shadow(shot.strands, shot.camera, light, width, height)
        open_share = open_share * through.ravel()[pixel]
    tx, ty = shot.camera.target[0] + 40 * light.unit[0], shot.camera.target[1]
    reach = max(shot.camera.distance * 1.1, 60.0)
    pool = 1 / (1 + ((x - tx) ** 2 + (y - ty) ** 2) / reach**2)
    key = light.key * light.unit[2] * open_share * (0.35 + 0.65 * pool)
    return (albedo * (key + light.room * nearby)[:, None]).astype(np.float32), gloss


def _floor_shade(
    shot: Shot,
    solid: Field,
    pixel: np.ndarray,
    x: Floats,
    y: Floats,
    width: int,
    height: int,
) -> tuple[Floats, Floats]:
    """Return soft shadow and the darkening near the parts, found coarsely and spread."""
    w, h = -(-width // SHADOW_PX), -(-height // SHADOW_PX)
    cell = (pixel // width // SHADOW_PX) * w + (pixel % width) // SHADOW_PX
    known, first = np.unique(cell, return_index=True)
    px, py = x[first], y[first]
    reach = shot.radius * 2.2
    close = (px - shot.center[0]) ** 2 + (py - shot.center[1]) ** 2 < (reach * 1.5) ** 2
    shade = np.ones((2, h * w), dtype=np.float32)
    if close.any():
        px, py, where = px[close], py[close], known[close]
        pz = np.full(px.size, 0.05, dtype=np.float32)
        shade[0, where] = soft_shadow(solid, px, py, pz, shot.light.unit, reach, 0.16)
        room_left = solid(px, py, pz + 1.0)
        tight = np.clip(room_left / (0.22 * shot.radius), 0, 1)
        shade[1, where] = 0.32 + 0.68 * np.sqrt(tight)
    out = []
    for layer in shade:
        small = Image.fromarray(blurred(layer.reshape(h, w), 1))
        big = small.resize((w * SHADOW_PX, h * SHADOW_PX), Image.Resampling.BILINEAR)
        out.append(np.asarray(big)[:height, :width].ravel()[pixel])
    return out[0], out[1]


def _shaded(shot: Shot, solid: Field, hits: Hits, behind: Floats) -> Floats:
    """Return the linear light of the pixels that see the parts."""
    nx, ny, nz = normals(solid, hits, shot.fine_mm)
    owner = _owners(shot.parts, hits)
    out = np.zeros((hits.pixel.size, 3), dtype=np.float32)
    shade = _part_shadow(shot, solid, hits, (nx, ny, nz), behind.shape[1], behind.shape[0])
    reach = np.float32(shot.radius * 0.07)
    around = solid(hits.x + nx * reach, hits.y + ny * reach, hits.z + nz * reach) / reach
    hollow = np.clip(0.25 + 0.85 * around, 0.25, 1) * np.clip(0.62 + hits.z / 16, 0.62, 1)
    for number, part in enumerate(shot.parts):
        mine = np.flatnonzero(owner == number)
        if mine.size:
            chosen = Hits(*(column[mine] for column in vars(hits).values()))
            normal = _textured(part.surface, chosen, (nx[mine], ny[mine], nz[mine]))
            out[mine] = _lit(shot, part.surface, chosen, normal, shade[mine], hollow[mine], behind)
    return out


def _owners(parts: tuple[Part, ...], hits: Hits) -> np.ndarray:
    if len(parts) == 1:
        return np.zeros(hits.pixel.size, dtype=np.int64)
    return np.argmin([part.shape(hits.x, hits.y, hits.z) for part in parts], axis=0)


def _part_shadow(
    shot: Shot,
    solid: Field,
    hits: Hits,
    normal: tuple[Floats, Floats, Floats],
    width: int,
    height: int,
) -> Floats:
    """Return the share of the key light at each hit, found coarsely and spread."""
    w, h = -(-width // SHADOW_PX), -(-height // SHADOW_PX)
    cell = (hits.pixel // width // SHADOW_PX) * w + (hits.pixel % width) // SHADOW_PX
    known, first = np.unique(cell, return_index=True)
    off = np.float32(0.012 * shot.radius + 0.25)
    place = (
        v[first] + n[first] * off for v, n in zip((hits.x, hits.y, hits.z), normal, strict=True)
    )
    x, y, z = place
    light = shot.light.unit
    share = soft_shadow(solid, x, y, z, light, shot.radius * 1.6, 0.14)
    weight, total = np.zeros(h * w, np.float32), np.zeros(h * w, np.float32)
    weight[known], total[known] = 1, share
    weight, total = (blurred(v.reshape(h, w), 1).ravel() for v in (weight, total))
    smooth = (total / np.maximum(weight, 1e-4)).reshape(h, w)
    big = Image.fromarray(smooth).resize((w * SHADOW_PX, h * SHADOW_PX), Image.Resampling.BILINEAR)
    return np.asarray(big)[:height, :width].ravel()[hits.pixel]


def _textured(
    surface: Surface, hits: Hits, normal: tuple[Floats, Floats, Floats]
) -> tuple[Floats, Floats, Floats]:
    """Return normals with the lines of the top face and a little unevenness."""
    nx, ny, nz = normal
    rough = surface.grit * noise((hits.x + hits.y) * 2.3, hits.z * 5.1, 1)
    nx, ny = nx + rough, ny - rough * 0.6
    if surface.raster_mm:
        line = (hits.x + hits.y) / (1.414 * surface.raster_mm)
        tilt = 0.30 * np.sin(2 * np.pi * line) * ramp(nz, 0.85, 0.97)
        nx, ny = nx + tilt, ny + tilt
    norm = 1 / np.sqrt(nx * nx + ny * ny + nz * nz)
    return nx * norm, ny * norm, nz * norm


def _albedo(surface: Surface, hits: Hits) -> Floats:
    if surface.paint is not None:
        color = surface.paint(hits.x, hits.y, hits.z)
    else:
        color = np.tile(np.asarray(surface.color, dtype=np.float32), (hits.x.size, 1))
    if surface.layer_mm:
        row = np.floor(hits.z / surface.layer_mm)
        along = (hits.x * 0.6 + hits.y * 0.5) * 0.35
        wave = noise(row * 7.31, row * 3.77) * 0.8 + 0.6 * noise(along, row * 5.3, 1)
        color = color * (1 + surface.streak * wave)[:, None]
    return color.astype(np.float32)


def _lit(
    shot: Shot,
    surface: Surface,
    hits: Hits,
    normal: tuple[Floats, Floats, Floats],
    shade: Floats,
    hollow: Floats,
    behind: Floats,
) -> Floats:
    nx, ny, nz = normal
    light, camera = shot.light, shot.camera.place
    lx, ly, lz = (float(v) for v in light.unit)
    vx, vy, vz = (
        (float(camera[k]) - p) / hits.distance for k, p in enumerate((hits.x, hits.y, hits.z))
    )
    facing = nx * lx + ny * ly + nz * lz
    diffuse = np.clip((facing + 0.18) / 1.18, 0, 1) * shade
    fill = np.clip(nx * 0.7 - ny * 0.5 + nz * 0.2, 0, 1) * 0.22
    sky = light.room * (0.55 + 0.45 * nz) * hollow
    bounce = 0.16 * np.clip(-nz, 0, 1) * hollow
    color = _albedo(surface, hits) * (light.key * diffuse + sky + fill + bounce)[:, None]
    hx, hy, hz = lx + vx, ly + vy, lz + vz
    norm = 1 / np.sqrt(hx * hx + hy * hy + hz * hz)
    along = np.clip((nx * hx + ny * hy + nz * hz) * norm, 0, 1)
    edge = 1 - np.clip(nx * vx + ny * vy + nz * vz, 0, 1)
    fresnel = 0.05 + 0.6 * edge**4
    up = nz * (2 * (nx * vx + ny * vy + nz * vz)) - vz
    seen_sky = light.room * (0.25 + 0.9 * np.clip(up, 0, 1)) * hollow
    glint = surface.shine * (
        light.key * along**surface.tightness * shade * 0.42 + seen_sky * fresnel
    )
    if surface.clear:
        through = surface.clear * (1 - 0.75 * edge)
        back = behind.reshape(-1, 3)[hits.pixel] * (0.35 + 0.65 * np.asarray(surface.color))
        color = color * (1 - through[:, None]) + back * through[:, None]
    return (color + glint[:, None]).astype(np.float32)


def _graded(light: Floats) -> Floats:
    """Return display values, 0 to 1, with a soft shoulder like a photo's."""
    soft = 1 - np.exp(-1.25 * np.maximum(light, 0))
    return np.power(soft, np.float32(1 / 2.2)).astype(np.float32)


def _to_image(picture: Floats) -> Image.Image:
    return Image.fromarray((np.clip(picture, 0, 1) * 255 + 0.5).astype(np.uint8))


def _defocused(picture: Floats, depth: Floats, shot: Shot) -> Floats:
    """Return the surroundings, softer with the distance from the plane of focus."""
    image = _to_image(picture)
    small = image.reduce(2)  # what is blurred needs no fine detail
    full = Image.Resampling.BILINEAR
    soft = small.filter(ImageFilter.GaussianBlur(shot.blur_px / 2)).resize(image.size, full)
    softer = small.filter(ImageFilter.GaussianBlur(shot.blur_px * 1.3)).resize(image.size, full)
    off = np.abs(depth - shot.camera.distance) / shot.camera.distance
    near, far = ramp(off, 0.10, 0.30)[..., None], ramp(off, 0.28, 0.75)[..., None]
    first = np.asarray(soft, dtype=np.float32) / 255
    second = np.asarray(softer, dtype=np.float32) / 255
    out = picture * (1 - near) + first * near
    return (out * (1 - far) + second * far).astype(np.float32)


def _laid_over(picture: Floats, color: Floats, hits: Hits, width: int, height: int) -> Floats:
    """Return the picture with the parts laid in, their outline softened by half a pixel."""
    mask = Image.new("L", (width, height))
    flat = np.zeros(width * height, dtype=np.uint8)
    flat[hits.pixel] = 255
    mask = Image.fromarray(flat.reshape(height, width))
    soft = np.asarray(mask.filter(ImageFilter.GaussianBlur(0.7)), dtype=np.float32) / 255
    layer = picture.copy()
    layer.reshape(-1, 3)[hits.pixel] = color
    grown = np.asarray(_to_image(layer).filter(ImageFilter.GaussianBlur(0.8)), np.float32) / 255
    rim = ((soft > 0.02) & (soft < 0.98))[..., None]
    lens = layer + 0.45 * (grown - layer) * soft[..., None]  # grooves one pixel wide look ragged
    return np.where(rim, grown, lens).astype(np.float32)


def _developed(
    picture: Floats, size: tuple[int, int], shot: Shot, rng: np.random.Generator
) -> Image.Image:
    """Return the finished photo: enlarged, tinted, darker in the corners, a little noisy."""
    image = _to_image(picture).filter(ImageFilter.UnsharpMask(1.1, 60, 1))
    image = image.resize(size, Image.Resampling.BICUBIC)
    level = np.linspace(0, 1, 256)
    contrast = level + 0.10 * (level - 0.45) * (1 - np.abs(2 * level - 1))
    out = np.take(contrast.astype(np.float32), np.asarray(image))
    width, height = size
    u = np.linspace(-1, 1, width, dtype=np.float32)[None, :]
    v = np.linspace(-1, 1, height, dtype=np.float32)[:, None]
    corner = 1 - 0.20 * np.clip((u * u + v * v * 0.8) / 1.8, 0, 1) ** 1.5
    warm = shot.light.warmth + float(rng.uniform(-0.025, 0.025))
    tint = np.array([1 + warm, 1.0, 1 - 1.3 * warm], dtype=np.float32)
    curve = out * (corner[..., None] * tint)
    seed = int(rng.integers(2**31))
    dust = np.random.default_rng(seed).standard_normal((height, width), dtype=np.float32)
    curve = curve + dust[..., None] * np.float32(0.011)
    return _to_image(curve)
