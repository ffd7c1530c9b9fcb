"""Pictures are told from bytes, checked and redrawn.

Orientation values 1 to 8: Exif 2.32 (CIPA DC-008), table of tag 274.
"""

import io
import struct
import time
import zlib

import pytest
from PIL import Image

from helpdesk.core.errors import RefusedInputError
from helpdesk.photos.images import check_image, redraw, tell_format
from tests.helpdesk.pictures import QUARTERS, draw_noise, draw_picture, picture_bytes

KINDS = [("JPEG", "JPEG"), ("PNG", "PNG"), ("WEBP", "WEBP"), ("HEIF", "HEIC")]
# Where the stored first row and first column lie in the scene, by orientation value.
STORED_AS = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def pixel_at(picture: Image.Image, place: tuple[int, int]) -> tuple[int, ...]:
    """Return the colour at a place of an RGB picture."""
    colour = picture.getpixel(place)
    assert isinstance(colour, tuple)
    return colour


def png_claiming(width: int, height: int) -> bytes:
    """Return a PNG of a few bytes whose header states a size."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    pixels = zlib.compress(b"\0" * 1000)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(("written_as", "told"), KINDS)
def test_format_is_told_from_the_bytes(written_as, told):
    """Each of the four formats is known by its first bytes."""
    assert tell_format(picture_bytes(format_name=written_as)[:64]) == told


@pytest.mark.parametrize(
    "head",
    [
        b"",
        b"GIF89a" + b"\0" * 40,
        b"BM" + b"\0" * 40,
        b"%!PS-Adobe-3.0 EPSF-3.0",
        b"<svg xmlns='http://www.w3.org/2000/svg'>",
        b"<!doctype html><script>alert(1)</script>",
        b"MZ\x90\0",
        b"PK\x03\x04" + b"\0" * 40,
        b"\0\0\0\x18ftypavif\0\0\0\0mif1avif",
        b"\0\0\0\x18ftypmif1\0\0\0\0mif1avif",
        b"\0\0\0\x18ftypmp42\0\0\0\0isommp42",
        b"RIFF\0\0\0\0WAVEfmt ",
    ],
)
def test_format_of_anything_else_is_unknown(head):
    """Other pictures, documents, archives, films and sounds are not photos."""
    assert tell_format(head) == ""


@pytest.mark.parametrize(("written_as", "told"), KINDS)
def test_check_returns_the_size(written_as, told):
    """A sound picture of each format passes with its width and height."""
    data = picture_bytes(draw_picture(80, 60), written_as)

    assert check_image(io.BytesIO(data), told) == (80, 60)


@pytest.mark.parametrize(("written_as", "told"), KINDS[:3])
def test_check_refuses_a_truncated_file(written_as, told):
    """A JPEG, PNG or WebP cut short is refused at once."""
    data = picture_bytes(draw_noise(640, 480), written_as)

    with pytest.raises(RefusedInputError, match="damaged"):
        check_image(io.BytesIO(data[: len(data) * 2 // 3]), told)


def test_check_refuses_markup_behind_a_png_header():
    """A file that only begins like a picture is refused."""
    data = b"\x89PNG\r\n\x1a\n<!doctype html><script>alert(1)</script>" + b" " * 200

    with pytest.raises(RefusedInputError, match="damaged"):
        check_image(io.BytesIO(data), "PNG")


@pytest.mark.parametrize("side", [7_750, 9_800, 30_000, 2_000_000])
def test_check_refuses_a_bomb_before_decoding(side):
    """More than 60 million pixels are refused from the header: below and above Pillow's limits."""
    started = time.perf_counter()

    with pytest.raises(RefusedInputError, match="60 million pixels"):
        check_image(io.BytesIO(png_claiming(side, side)), "PNG")

    assert time.perf_counter() - started < 0.5


def test_redraw_refuses_a_bomb():
    """The worker does not trust that the first check has run."""
    with pytest.raises(RefusedInputError, match="60 million pixels"):
        redraw(png_claiming(8_000, 8_000), "PNG")


def test_redraw_refuses_an_unreadable_heic():
    """A HEIC with a sound beginning and a missing end is found by the worker."""
    data = picture_bytes(draw_noise(640, 480), "HEIF")

    with pytest.raises(RefusedInputError, match="damaged"):
        redraw(data[: len(data) // 2], "HEIC")


@pytest.mark.parametrize(("written_as", "told"), KINDS)
def test_redraw_makes_two_sizes(written_as, told):
    """The page rendition is at most 1600 px wide and the thumbnail at most 320 px."""
    page, thumb = redraw(picture_bytes(draw_noise(2000, 1000), written_as), told)

    assert (page.width, page.height) == (1600, 800)
    assert (thumb.width, thumb.height) == (320, 160)
    for rendition in (page, thumb):
        with Image.open(io.BytesIO(rendition.data), formats=["JPEG"]) as seen:
            assert seen.size == (rendition.width, rendition.height)


def test_redraw_does_not_enlarge():
    """A small picture stays as small as it is."""
    page, thumb = redraw(picture_bytes(draw_picture(64, 48)), "JPEG")

    assert (page.width, page.height) == (64, 48)
    assert (thumb.width, thumb.height) == (64, 48)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_redraw_sets_every_orientation_upright(orientation):
    """Whatever way the camera was held, the scene's corners come out where they were."""
    scene = draw_picture(64, 48)
    turn = STORED_AS[orientation]
    stored = scene.transpose(turn) if turn is not None else scene
    exif = Image.Exif()
    exif[274] = orientation
    data = picture_bytes(stored, "PNG", exif=exif)

    page, _ = redraw(data, "PNG")

    with Image.open(io.BytesIO(page.data)) as seen:
        assert seen.size == (64, 48)
        corners = {"nw": (8, 8), "ne": (56, 8), "sw": (8, 40), "se": (56, 40)}
        for name, place in corners.items():
            pixel = pixel_at(seen, place)
            assert all(abs(a - b) < 12 for a, b in zip(pixel, QUARTERS[name], strict=True)), name


@pytest.mark.parametrize("orientation", [3, 6, 8])
def test_redraw_turns_a_heic_once(orientation: int) -> None:
    """A turned HEIC comes out upright, although its decoder turns it too."""
    scene = draw_picture(64, 48)
    exif = Image.Exif()
    exif[274] = orientation
    # As bytes, for then the encoder writes the turn into the picture's own properties.
    turn = STORED_AS[orientation]
    assert turn is not None
    stored = scene.transpose(turn)
    data = picture_bytes(stored, "HEIF", exif=exif.tobytes(), quality=95)
    assert b"irot" in data

    page, _ = redraw(data, "HEIC")

    with Image.open(io.BytesIO(page.data)) as seen:
        assert seen.size == (64, 48)
        for name, place in {"nw": (8, 8), "ne": (56, 8), "sw": (8, 40), "se": (56, 40)}.items():
            pixel = pixel_at(seen, place)
            assert all(abs(a - b) < 25 for a, b in zip(pixel, QUARTERS[name], strict=True)), name


@pytest.mark.parametrize(("written_as", "told"), KINDS)
def test_redraw_of_a_large_picture_keeps_its_parts_in_place(written_as, told):
    """Shrinking in steps and strips leaves the four quarters where they were."""
    page, _ = redraw(picture_bytes(draw_picture(6500, 1100), written_as), told)

    with Image.open(io.BytesIO(page.data)) as seen:
        assert seen.size == (1600, 271)
        corners = {"nw": (20, 10), "ne": (1580, 10), "sw": (20, 260), "se": (1580, 260)}
        for name, place in corners.items():
            pixel = pixel_at(seen, place)
            assert all(abs(a - b) < 25 for a, b in zip(pixel, QUARTERS[name], strict=True)), name


def test_redraw_ignores_an_impossible_orientation():
    """A value the standard does not know leaves the picture as it is."""
    exif = Image.Exif()
    exif[274] = 99

    page, _ = redraw(picture_bytes(draw_picture(64, 48), exif=exif), "JPEG")

    assert (page.width, page.height) == (64, 48)


def marked_exif() -> Image.Exif:
    """Return Exif data with a place, a serial number, a name and a comment."""
    exif = Image.Exif()
    exif[0x010F] = "MARKER-MAKER"
    exif[0x013B] = "MARKER-ARTIST"
    exif.get_ifd(0x8769)[0xA431] = "MARKER-SERIAL"
    exif.get_ifd(0x8769)[0x9286] = b"ASCII\0\0\0MARKER-COMMENT"
    exif.get_ifd(0x8825).update({1: "N", 2: (53.0, 47.0, 12.5), 3: "W", 4: (1.0, 32.0, 8.25)})
    return exif


@pytest.mark.parametrize(("written_as", "told"), KINDS)
def test_redraw_leaves_no_metadata(written_as, told):
    """Place, serial number, names, comment and XMP are in the upload and in no rendition."""
    extra = {"xmp": b"<x:xmpmeta>MARKER-XMP</x:xmpmeta>"} if written_as != "PNG" else {}
    if written_as == "JPEG":
        extra["comment"] = b"MARKER-JPEG-COMMENT"
    data = picture_bytes(draw_picture(), written_as, exif=marked_exif(), **extra)
    assert b"MARKER-SERIAL" in data

    for rendition in redraw(data, told):
        assert b"MARKER" not in rendition.data
        assert b"Exif" not in rendition.data
        with Image.open(io.BytesIO(rendition.data)) as seen:
            assert dict(seen.getexif()) == {}
            assert not seen.getexif().get_ifd(0x8825)
            assert not {"exif", "xmp", "icc_profile", "comment", "photoshop"} & set(seen.info)


def test_redraw_drops_what_hangs_behind_the_picture():
    """Bytes after the end of the picture do not survive."""
    data = picture_bytes() + b"<script>alert('tail')</script>"

    assert all(b"script" not in rendition.data for rendition in redraw(data, "JPEG"))


@pytest.mark.parametrize("mode", ["L", "LA", "P", "RGBA", "I;16", "1"])
def test_redraw_reads_every_png_mode(mode):
    """Grey, palette, transparent, deep and two-valued pictures come out as plain JPEG."""
    picture = draw_picture(mode="L" if mode == "I;16" else mode)
    data = picture_bytes(picture.convert("I;16") if mode == "I;16" else picture, "PNG")

    page, _ = redraw(data, "PNG")

    with Image.open(io.BytesIO(page.data)) as seen:
        assert seen.mode == "RGB"


def test_redraw_lays_transparency_on_white():
    """What shows through a transparent picture is paper, not black."""
    page, _ = redraw(picture_bytes(Image.new("RGBA", (40, 40), (255, 0, 0, 0)), "PNG"), "PNG")

    with Image.open(io.BytesIO(page.data)) as seen:
        assert min(pixel_at(seen, (20, 20))) > 250


def test_redraw_reads_print_colours():
    """A CMYK JPEG comes out as RGB."""
    page, _ = redraw(picture_bytes(draw_picture(mode="CMYK")), "JPEG")

    with Image.open(io.BytesIO(page.data)) as seen:
        assert seen.mode == "RGB"


@pytest.mark.parametrize(("written_as", "told"), KINDS)
def test_check_and_redraw_only_refuse_whatever_the_damage(written_as, told):
    """A file with any byte changed is either read or refused; no other error comes out."""
    sound = picture_bytes(draw_picture(), written_as)
    outcomes = set()
    for at in range(0, len(sound), max(1, len(sound) // 120)):
        broken = sound[:at] + bytes([sound[at] ^ 0xA5]) + sound[at + 1 :]
        try:
            check_image(io.BytesIO(broken), told)
            redraw(broken, told)
            outcomes.add("read")
        except RefusedInputError:
            outcomes.add("refused")

    assert "refused" in outcomes
