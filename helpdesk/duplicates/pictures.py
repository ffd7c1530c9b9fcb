"""What a photo is recognised by: a small copy, a hash of the whole, and words of its details.

The hash of the whole is the sign pattern of the low frequencies of a cosine transform. It moves
little when a picture is compressed, scaled or made brighter, and a lot when it is cropped. For that
there are the words: spots that stand out are found at every scale (extrema of differences of
Gaussians, after D. G. Lowe, "Distinctive image features from scale-invariant keypoints", IJCV 60,
2004, from memory), and the sign pattern of each spot's surroundings, cut out in proportion to its
scale, is one word. Hash and words only find candidates; whether two photos are the same picture is
decided by `alignment`.
"""

import functools
import io
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image

Floats = npt.NDArray[np.float64]

SMALL_PX = 128  # longest side of the small copy
SMALL_QUALITY = 90
DETAIL_PX = 256  # longest side of the picture the spots are looked for in
HASH_SIDE = 32
LOW = 8  # frequencies a side of the whole's hash
BAND_BITS = 16
FIRST_SIGMA = 2.5  # pixels of the detail picture
STEPS = 3  # scales an octave
SCALES = 10
MOST_WORDS = 32
PATCH_SIDE = 16
PATCH_REACH = 4.0  # half a patch, in sigmas of its spot
LEAST_RESPONSE = 0.8  # grey levels of 255: below it a spot is noise of the sensor
LEAST_CONTRAST = 4.0  # grey levels of 255: a picture flatter than this is recognised by nothing
WORD_TERMS = (
    *((0, 1), (1, 0), (1, 1), (1, 2), (2, 1), (0, 3), (3, 0), (1, 3), (3, 1), (2, 2)),
    *((2, 3), (3, 2), (1, 4), (4, 1), (3, 3), (0, 5), (5, 0), (2, 4), (4, 2), (3, 4)),
)
PROBED_BITS = 3  # of a word that is looked up, as many least certain bits are tried both ways


@dataclass(frozen=True)
class Print:
    """What is kept of a photo; `words` are exact, `probes` what to look up to find similar ones."""

    small: bytes
    whole_hash: int
    words: tuple[int, ...]
    probes: tuple[tuple[int, ...], ...]
    contrast: float  # standard deviation of the grey levels of 255


def take_print(data: bytes) -> Print:
    """Return what a rendition is recognised by; raises OSError for bytes that are no picture."""
    with Image.open(io.BytesIO(data)) as opened:
        picture = opened.convert("RGB")
    grey = picture.convert("L")
    contrast = float(np.asarray(grey, dtype=np.float64).std())
    found = list(_find_words(grey)) if contrast >= LEAST_CONTRAST else []
    return Print(
        small=_encode_small(picture),
        whole_hash=whole_hash(grey),
        words=tuple(word for word, _ in found),
        probes=tuple(_probe(word, weakest) for word, weakest in found),
        contrast=contrast,
    )


def bands_of(hash_bits: int) -> tuple[int, ...]:
    """Return a hash of 64 bits as four bands, each numbered so that bands do not mix."""
    mask = (1 << BAND_BITS) - 1
    return tuple(
        (place << BAND_BITS) | ((hash_bits >> (place * BAND_BITS)) & mask) for place in range(4)
    )


@functools.lru_cache(maxsize=1)
def _near() -> tuple[int, ...]:
    """Return the patterns that change at most one bit of a band."""
    return (0, *(1 << bit for bit in range(BAND_BITS)))


def near_bands(hash_bits: int) -> tuple[int, ...]:
    """Return the bands to look up: every hash that differs in up to seven bits shares one.

    Seven bits in four bands leave one band with at most one.
    """
    return tuple(band ^ change for band in bands_of(hash_bits) for change in _near())


def whole_hash(grey: Image.Image) -> int:
    """Return 64 signs of the low frequencies of a picture, against their median."""
    low = _cosines(_pixels(grey.resize((HASH_SIDE, HASH_SIDE), Image.Resampling.BOX)), LOW + 1)
    chosen = low[1:, 1:].ravel()  # the mean and the plain slopes say how it was lit
    return _pack(chosen > np.median(chosen))


def distance(one: int, other: int) -> int:
    """Return in how many bits two hashes differ."""
    return (one ^ other).bit_count()


def _encode_small(picture: Image.Image) -> bytes:
    small = picture.copy()
    small.thumbnail((SMALL_PX, SMALL_PX), Image.Resampling.LANCZOS)
    out = io.BytesIO()
    small.save(out, "JPEG", quality=SMALL_QUALITY, subsampling=0)
    return out.getvalue()


def _find_words(grey: Image.Image) -> Iterator[tuple[int, tuple[int, ...]]]:
    """Yield the words of the spots that stand out most, each with its least certain bits."""
    detail = grey.copy()
    detail.thumbnail((DETAIL_PX, DETAIL_PX), Image.Resampling.LANCZOS)
    sigmas = [FIRST_SIGMA * 2 ** (step / STEPS) for step in range(SCALES + 1)]
    levels = _blur(_pixels(detail), sigmas)
    for response, step, row, column in _find_spots(levels[1:] - levels[:-1]):
        patch = _cut_patch(levels[max(0, step - 2)], row, column, sigmas[step])
        if patch is not None:
            yield _word_of(patch, is_bright=response > 0)


def _find_spots(change: Floats) -> list[tuple[float, int, int, int]]:
    """Return the strongest extrema in place and scale as (response, step, row, column)."""
    strength = np.abs(change)
    inner = strength[1:-1, 1:-1, 1:-1]
    is_top = inner >= LEAST_RESPONSE
    for step in (-1, 0, 1):
        for row in (-1, 0, 1):
            for column in (-1, 0, 1):
                if (step, row, column) != (0, 0, 0):
                    shifted = np.roll(strength, (step, row, column), axis=(0, 1, 2))
                    is_top &= inner > shifted[1:-1, 1:-1, 1:-1]
    places = np.argwhere(is_top) + 1
    responses = [float(change[tuple(place)]) for place in places]
    order = sorted(range(len(places)), key=lambda n: -abs(responses[n]))[:MOST_WORDS]
    return [(responses[n], *(int(v) for v in places[n])) for n in order]  # type: ignore[misc]


def _cut_patch(level: Floats, row: int, column: int, sigma: float) -> Floats | None:
    """Return the surroundings of a spot at its own scale, or None where they leave the picture."""
    reach = PATCH_REACH * sigma
    height, width = level.shape
    steps = (np.arange(PATCH_SIDE) + 0.5) / PATCH_SIDE * 2 - 1
    rows, columns = row + steps * reach, column + steps * reach
    slack = reach / 2  # a little over the edge is mirrored: half a patch still tells much
    if rows[0] < -slack or columns[0] < -slack:
        return None
    if rows[-1] > height - 1 + slack or columns[-1] > width - 1 + slack:
        return None
    rows, columns = _mirrored(rows, height), _mirrored(columns, width)
    patch: Floats = level[np.ix_(rows.round().astype(int), columns.round().astype(int))]
    return patch


def _mirrored(places: Floats, size: int) -> Floats:
    folded = np.abs(places)
    return np.clip(np.where(folded > size - 1, 2 * (size - 1) - folded, folded), 0, size - 1)


def _word_of(patch: Floats, *, is_bright: bool) -> tuple[int, tuple[int, ...]]:
    """Return a patch's word and its least certain bits."""
    low = _cosines(patch, 6)
    terms = np.array([low[place] for place in WORD_TERMS])
    word = (_pack(terms > 0) << 1) | int(is_bright)
    weakest = np.argsort(np.abs(terms))[:PROBED_BITS]
    return word, tuple(1 << (len(terms) - int(bit)) for bit in weakest)


def _probe(word: int, weakest: tuple[int, ...]) -> tuple[int, ...]:
    """Return a word with its least certain bits both ways."""
    found = [word]
    for bit in weakest:
        found += [each ^ bit for each in found]
    return tuple(found)


def _blur(pixels: Floats, sigmas: list[float]) -> Floats:
    """Return a picture blurred by each sigma, with its edges mirrored; shape (sigmas, h, w)."""
    height, width = pixels.shape
    mirrored = np.block([[pixels, pixels[:, ::-1]], [pixels[::-1], pixels[::-1, ::-1]]])
    spectrum = np.fft.rfft2(mirrored)
    rows = np.fft.fftfreq(2 * height)[:, None] ** 2
    columns = np.fft.rfftfreq(2 * width)[None, :] ** 2
    passes = [np.exp(-2 * np.pi**2 * sigma**2 * (rows + columns)) for sigma in sigmas]
    blurred = [np.fft.irfft2(spectrum * each, s=mirrored.shape) for each in passes]
    return np.stack([each[:height, :width] for each in blurred])


@functools.lru_cache(maxsize=8)
def _cosine_rows(side: int, count: int) -> Floats:
    """Return the first rows of the orthogonal cosine transform (type II) of a length."""
    places = (np.arange(side) + 0.5) / side
    rows: Floats = np.cos(np.pi * np.arange(count)[:, None] * places[None, :])
    return rows


def _cosines(pixels: Floats, count: int) -> Floats:
    """Return the lowest frequencies of a square picture; shape (count, count)."""
    rows = _cosine_rows(pixels.shape[0], count)
    low: Floats = rows @ pixels @ rows.T
    return low


def _pixels(grey: Image.Image) -> Floats:
    return np.asarray(grey, dtype=np.float64)


def _pack(bits: npt.NDArray[Any]) -> int:
    """Return bits as a number, the first one highest."""
    return int("".join("1" if bit else "0" for bit in bits), 2)
