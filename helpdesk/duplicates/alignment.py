"""Whether two photos are the same picture: lay one over the other and look where they differ.

The way one picture lies in the other (cut out, smaller, a little turned) is found by normalised
correlation of all shifts at once, at a row of scales, counting only where both pictures are (D.
Padfield, "Masked object registration in the Fourier domain", IEEE Trans. Image Processing 21, 2012,
from memory), and refined by least squares of an affine map (B. D. Lucas and T. Kanade, "An
iterative image registration technique", 1981, from memory). What counts in the end is the share of
the picture that agrees in place and colour: the same bench with another print on it agrees all
around and not in the middle.
"""

import functools
import io
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

COARSE_PX = 48  # longest side for the search of all shifts
FIELD_PX = 128  # holds one picture beside the other at every shift
SCALES = tuple(float(2 ** (step / 8)) for step in range(-7, 8))  # 0.55 to 1.83
LEAST_SHARED = 0.25  # of the smaller picture: below it, a correlation is chance
BEST_STARTS = 3
LEAST_START = 0.5  # correlation: copies reach it at the right shift even when cut and turned
ROUNDS = 12
CELL_PX = 8
LEAST_FILLED = 0.7  # of a cell
LEAST_SPREAD = 4.0  # grey levels of 255
# What two copies of one picture may differ by in a cell, in levels of 255: compression and noise,
# and more where it is full of detail, for a shift of half a pixel moves edges.
NOISE = 7.0
DETAIL_SHARE = 0.35
CLIPPED = 251.0  # levels from here on were burnt out and say nothing of what is there
MOST_TURN = 0.2  # of an affine map away from scale alone: above it the fit ran away


@dataclass(frozen=True)
class Comparison:
    """How far two pictures are one.

    `agreement` is the share of the overlapping cells, from 0 to 1, that look the same, and
    `detail` the same share where each cell counts as much as there is to see in it;
    `correlation` that of the grey levels where both are, from -1 to 1; `overlap` the share of the
    picture less covered; `scale` how much larger the second shows things.
    """

    agreement: float
    detail: float
    correlation: float
    overlap: float
    scale: float


NOTHING = Comparison(0.0, 0.0, 0.0, 0.0, 1.0)


def compare(one: bytes, other: bytes) -> Comparison:
    """Compare two small pictures; the result does not depend on their order."""
    first, second = sorted((one, other))
    a, b = _read(first), _read(second)
    if min(_grey(a).std(), _grey(b).std()) < LEAST_SPREAD:
        return NOTHING
    found = [_judge(a, b, _refine(a, b, start)) for start in _find_starts(_grey(a), _grey(b))]
    return max(found, key=lambda each: each.agreement * each.overlap**0.5, default=NOTHING)


def _read(data: bytes) -> Floats:
    with Image.open(io.BytesIO(data)) as picture:
        return np.asarray(picture.convert("RGB"), dtype=np.float64)


def _grey(pixels: Floats) -> Floats:
    found: Floats = pixels @ np.array([0.299, 0.587, 0.114])  # ITU-R BT.601
    return found


def _find_starts(a: Floats, b: Floats) -> list[Floats]:
    """Return the likeliest maps from a's places to b's, as 2 by 3 arrays over (x, y, 1)."""
    shrink_a = COARSE_PX / max(a.shape)
    small_a = _resize(a, shrink_a)
    found = []
    for scale in SCALES:
        shrink_b = COARSE_PX / max(b.shape) / scale
        if max(b.shape) * shrink_b > FIELD_PX - COARSE_PX or min(b.shape) * shrink_b < CELL_PX:
            continue
        value, dx, dy = _best_shift(small_a, _resize(b, shrink_b))
        ratio = shrink_a / shrink_b
        found.append(
            (value, np.array([[ratio, 0.0, -dx / shrink_b], [0.0, ratio, -dy / shrink_b]]))
        )
    found.sort(key=lambda each: -each[0])
    return [start for value, start in found[:BEST_STARTS] if value >= LEAST_START]


def _resize(grey: Floats, factor: float) -> Floats:
    height, width = (max(4, round(side * factor)) for side in grey.shape)
    picture = Image.fromarray(grey.astype(np.float32))
    return np.asarray(picture.resize((width, height), Image.Resampling.BOX), dtype=np.float64)


def _best_shift(a: Floats, b: Floats) -> tuple[float, int, int]:
    """Return the highest correlation over all shifts of b in a's frame, and that shift."""
    fa, fb = _spectra(a - a.mean()), _spectra(b - b.mean())

    def along(first: Floats, second: Floats) -> Floats:
        return np.fft.irfft2(first * np.conj(second), s=(FIELD_PX, FIELD_PX))

    count = np.maximum(along(fa[0], fb[0]), 1e-6)
    sum_a, sum_b = along(fa[1], fb[0]), along(fa[0], fb[1])
    shared = along(fa[1], fb[1]) - sum_a * sum_b / count
    var_a = np.maximum(along(fa[2], fb[0]) - sum_a**2 / count, 0.0)
    var_b = np.maximum(along(fa[0], fb[2]) - sum_b**2 / count, 0.0)
    floor = count * LEAST_SPREAD**2 / 4
    value = shared / np.sqrt(np.maximum(var_a, floor) * np.maximum(var_b, floor))
    value[count < LEAST_SHARED * min(a.size, b.size)] = -1.0
    dy, dx = np.unravel_index(int(np.argmax(value)), value.shape)
    best = float(value[dy, dx])
    return best, _signed(int(dx)), _signed(int(dy))


def _signed(shift: int) -> int:
    return shift - FIELD_PX if shift > FIELD_PX // 2 else shift


def _spectra(grey: Floats) -> tuple[Floats, Floats, Floats]:
    """Return the spectra of where the picture is, of its levels and of their squares."""
    size = (FIELD_PX, FIELD_PX)
    parts = (np.ones_like(grey), grey, grey**2)
    return tuple(np.fft.rfft2(part, s=size) for part in parts)  # type: ignore[return-value]


def _refine(a: Floats, b: Floats, start: Floats) -> Floats:
    """Return the affine map with the least squares of grey differences, near a start."""
    ga, gb = _smooth(_grey(a)), _smooth(_grey(b))
    slope_y, slope_x = (np.asarray(slope) for slope in np.gradient(gb))
    y, x = (grid.ravel() for grid in np.mgrid[0 : ga.shape[0], 0 : ga.shape[1]].astype(float))
    now = start.copy()
    for _ in range(ROUNDS):
        bx, by = (
            now[0, 0] * x + now[0, 1] * y + now[0, 2],
            now[1, 0] * x + now[1, 1] * y + now[1, 2],
        )
        is_in = _inside(gb, bx, by)
        if is_in.sum() < CELL_PX**2 * 4:
            return start
        xs, ys = x[is_in], y[is_in]
        level = _sample(gb, bx[is_in], by[is_in])
        gain, offset = _levels(level, ga.ravel()[is_in])
        rest = ga.ravel()[is_in] - gain * level - offset
        gx = gain * _sample(slope_x, bx[is_in], by[is_in])
        gy = gain * _sample(slope_y, bx[is_in], by[is_in])
        weight = 1.0 / (1.0 + (rest / (2.0 * NOISE)) ** 2)  # another object must not pull
        columns = np.stack([gx * xs, gx * ys, gx, gy * xs, gy * ys, gy], axis=1)
        weighted = columns * weight[:, None]
        normal = weighted.T @ columns + np.eye(6) * 1e-3
        step = np.linalg.solve(normal, weighted.T @ rest).reshape(2, 3)
        now = now + step
        if np.abs(step[:, 2]).max() < 0.01:
            break
    is_sane = np.abs(now[:, :2] - start[:, :2]).max() <= MOST_TURN * start[0, 0]
    return now if is_sane else start


@functools.lru_cache(maxsize=1)
def _kernel() -> Floats:
    weights = np.exp(-0.5 * (np.arange(-3, 4) / 1.2) ** 2)
    found: Floats = weights / weights.sum()
    return found


def _smooth(grey: Floats) -> Floats:
    """Return a picture a little blurred, so that its slopes reach further."""
    padded = np.pad(grey, 3, mode="edge")
    for axis in (0, 1):
        padded = np.apply_along_axis(
            lambda line: np.convolve(line, _kernel(), "same"), axis, padded
        )
    return padded[3:-3, 3:-3]


def _inside(grey: Floats, x: Floats, y: Floats) -> Bools:
    found: Bools = (x >= 0) & (y >= 0) & (x <= grey.shape[1] - 1) & (y <= grey.shape[0] - 1)
    return found


def _sample(grey: Floats, x: Floats, y: Floats) -> Floats:
    """Return levels between pixels, bilinearly; all places lie inside."""
    left = np.minimum(x.astype(int), grey.shape[1] - 2)
    top = np.minimum(y.astype(int), grey.shape[0] - 2)
    fx, fy = (x - left), (y - top)
    if grey.ndim == 3:
        fx, fy = fx[:, None], fy[:, None]
    upper = grey[top, left] * (1 - fx) + grey[top, left + 1] * fx
    lower = grey[top + 1, left] * (1 - fx) + grey[top + 1, left + 1] * fx
    found: Floats = upper * (1 - fy) + lower * fy
    return found


def _levels(level: Floats, wanted: Floats) -> tuple[float, float]:
    """Return gain and offset that bring one picture's light nearest to the other's."""
    gain, offset = 1.0, 0.0
    weight = np.ones_like(level)
    for _ in range(3):
        total = weight.sum()
        mean_l, mean_w = (weight * level).sum() / total, (weight * wanted).sum() / total
        spread = (weight * (level - mean_l) ** 2).sum() + 1e-6
        gain = float((weight * (level - mean_l) * (wanted - mean_w)).sum() / spread)
        gain = min(max(gain, 0.4), 2.5)
        offset = float(mean_w - gain * mean_l)
        weight = 1.0 / (1.0 + ((wanted - gain * level - offset) / (2.0 * NOISE)) ** 2)
    return gain, offset


def _judge(a: Floats, b: Floats, way: Floats) -> Comparison:
    """Return how far the pictures agree when one is laid over the other."""
    height, width = a.shape[:2]
    y, x = (grid.ravel() for grid in np.mgrid[0:height, 0:width].astype(float))
    bx, by = way[0, 0] * x + way[0, 1] * y + way[0, 2], way[1, 0] * x + way[1, 1] * y + way[1, 2]
    is_in = _inside(b[..., 0], bx, by)
    scale = float(np.sqrt(abs(np.linalg.det(way[:, :2]))))
    if is_in.sum() < CELL_PX**2 * 4 or scale < 1e-3:
        return NOTHING
    seen_b = float(is_in.sum()) * scale**2 / (b.shape[0] * b.shape[1])
    overlap = min(1.0, max(float(is_in.mean()), seen_b))
    laid = np.zeros_like(a).reshape(-1, 3)
    laid[is_in] = _sample(b, bx[is_in], by[is_in])
    flat = a.reshape(-1, 3)
    for colour in range(3):
        gain, offset = _levels(laid[is_in, colour], flat[is_in, colour])
        laid[is_in, colour] = gain * laid[is_in, colour] + offset
    pair = np.corrcoef(_grey(flat[is_in]), _grey(laid[is_in]))[0, 1]
    correlation = float(np.nan_to_num(pair))
    is_clear = is_in & (flat.max(axis=1) < CLIPPED)
    is_clear[is_in] &= _sample(b, bx[is_in], by[is_in]).max(axis=1) < CLIPPED
    agreement, detail = _agreeing(a, laid.reshape(a.shape), is_clear.reshape(height, width))
    return Comparison(agreement, detail, correlation, overlap, scale)


def _agreeing(a: Floats, laid: Floats, is_clear: Bools) -> tuple[float, float]:
    """Return the share of cells that differ by no more than copies do, plain and by detail.

    Only cells that both pictures fill count, and of these the pixels that no light burnt out.
    """
    same, weights = [], []
    for top in range(0, a.shape[0] - CELL_PX + 1, CELL_PX):
        for left in range(0, a.shape[1] - CELL_PX + 1, CELL_PX):
            part = np.s_[top : top + CELL_PX, left : left + CELL_PX]
            filled = is_clear[part]
            if filled.mean() < LEAST_FILLED:
                continue
            one, other = a[part][filled], laid[part][filled]
            rest = np.sqrt(((one - other) ** 2).mean())
            spreads = _grey(one).std(), _grey(other).std()
            same.append(bool(rest <= NOISE + DETAIL_SHARE * min(spreads)))
            weights.append(max(spreads))
    if not same:
        return 0.0, 0.0
    return float(np.mean(same)), float(np.average(same, weights=np.add(weights, 0.1)))
