"""Pictures: what copies keep, and that two different ones are told apart."""

import io

import numpy as np
import pytest
from PIL import Image, ImageEnhance

from fixtures_demo.render import render_photo
from helpdesk.duplicates.alignment import NOTHING, compare
from helpdesk.duplicates.evidence import weigh_picture
from helpdesk.duplicates.pictures import (
    bands_of,
    distance,
    near_bands,
    take_print,
    whole_hash,
)


def _bytes(picture, quality=85):
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=quality)
    return out.getvalue()


@pytest.fixture(scope="module")
def picture():
    return render_photo("layer-shift", seed=3, size=(480, 360))


CHANGES = {
    "compressed": lambda p: Image.open(io.BytesIO(_bytes(p, 30))),
    "smaller": lambda p: p.resize((200, 150)),
    "brighter": lambda p: ImageEnhance.Brightness(p).enhance(1.25),
    "cut": lambda p: p.crop((60, 40, 420, 330)),
    "turned": lambda p: p.rotate(2, Image.Resampling.BICUBIC).crop((30, 30, 450, 330)),
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_changed_copy_is_the_same_picture(picture, change):
    own, other = take_print(_bytes(picture)), take_print(_bytes(CHANGES[change](picture)))

    copy, _ = weigh_picture(compare(own.small, other.small))

    assert copy > 0.8
    assert len(set(own.words) & {word for probe in other.probes for word in probe}) >= 3


def test_compare_does_not_depend_on_the_order(picture):
    one = take_print(_bytes(picture)).small
    other = take_print(_bytes(picture.crop((60, 40, 420, 330)))).small

    assert compare(one, other) == compare(other, one)


@pytest.mark.parametrize(
    "other",
    [
        {"scene": "layer-shift", "seed": 3, "color": "orange"},
        {"scene": "layer-shift", "seed": 4, "color": "teal"},
        {"scene": "warped-tray", "seed": 3, "color": "teal"},
    ],
)
def test_another_print_is_not_the_same_picture(picture, other):
    scene = other.pop("scene")
    taken = take_print(_bytes(render_photo(scene, size=(480, 360), **other)))
    other["scene"] = scene

    copy, _ = weigh_picture(compare(take_print(_bytes(picture)).small, taken.small))

    assert copy < 0.2


def test_a_flat_picture_agrees_with_nothing():
    flat = take_print(_bytes(Image.new("RGB", (300, 200), (80, 90, 100))))
    assert flat.words == ()
    assert compare(flat.small, flat.small) == NOTHING


def test_near_bands_find_every_hash_within_seven_bits():
    """The pigeonhole principle: seven changed bits leave one of four bands with at most one."""
    rng = np.random.default_rng(5)
    for _ in range(300):
        one = int.from_bytes(rng.bytes(8), "big")
        bits = rng.choice(64, size=int(rng.integers(0, 8)), replace=False)
        other = one
        for bit in bits:
            other ^= 1 << int(bit)
        assert distance(one, other) == len(bits)
        assert set(near_bands(one)) & set(bands_of(other))


def test_whole_hash_hardly_moves_when_compressed(picture):
    grey = picture.convert("L")
    worse = Image.open(io.BytesIO(_bytes(picture, 25))).convert("L")
    assert distance(whole_hash(grey), whole_hash(worse)) <= 7


def test_take_print_refuses_what_is_no_picture():
    with pytest.raises(OSError, match="cannot identify"):
        take_print(b"not a picture at all")
