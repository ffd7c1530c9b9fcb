"""Tell, check and redraw pictures. Knows Pillow, but neither database nor storage."""

import io
import struct
import warnings
import zlib
from dataclasses import dataclass
from typing import IO

import pillow_heif
from PIL import Image, ImageCms

from helpdesk.core.errors import RefusedInputError
from helpdesk.photos.limits import MAX_PIXELS

pillow_heif.register_heif_opener(thumbnails=False)
# Pillow warns above this and refuses above twice this; the desk refuses at once.
Image.MAX_IMAGE_PIXELS = MAX_PIXELS
warnings.filterwarnings("error", category=Image.DecompressionBombWarning)

HEAD_BYTES = 64
WEB_PX = 1600
THUMB_PX = 320
CHECK_PX = 320  # a JPEG decodes eight times smaller for the first check
DECODE_NOW_PX = 16_000_000  # PNG and WebP above this are decoded by the worker only
GAP = 2.0  # a picture is first shrunk roughly to this multiple, then finely
STRIP_ROWS = 128
JPEG_QUALITY = 85
PAPER = (255, 255, 255)  # shows through transparent parts
DECODERS = {"JPEG": "JPEG", "PNG": "PNG", "WEBP": "WEBP", "HEIC": "HEIF"}
# Exif 2.32 (CIPA DC-008), tag 274: how the stored rows and columns lie, and what sets them upright.
ORIENTATION_TAG = 274
UPRIGHT = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
# ISO/IEC 23008-12: brands of pictures coded with HEVC; the cover brands say nothing about coding.
HEIC_BRANDS = frozenset({b"heic", b"heix", b"heim", b"heis"})
HEIC_SEQUENCE_BRANDS = frozenset({b"hevc", b"hevx"})
COVER_BRANDS = frozenset({b"mif1", b"msf1"})
# What the decoders raise on broken files, beside OSError.
BROKEN = (
    OSError,
    ValueError,
    SyntaxError,
    TypeError,
    IndexError,
    KeyError,
    EOFError,
    RuntimeError,
    ZeroDivisionError,
    struct.error,
    zlib.error,
    Image.DecompressionBombError,
    Image.DecompressionBombWarning,
)
BROKEN_WORDS = "is damaged or was cut short on its way. Please choose it again or send another."
TOO_MANY_PIXELS_WORDS = (
    "has more than 60 million pixels. Please send a smaller copy or a part of it."
)


@dataclass(frozen=True)
class Rendition:
    """A redrawn picture as JPEG bytes without any metadata."""

    data: bytes
    width: int
    height: int


def tell_format(head: bytes) -> str:
    """Return JPEG, PNG, WEBP or HEIC from a file's first bytes, or "" for anything else."""
    if head.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "WEBP"
    if head[4:8] == b"ftyp":
        return _tell_heic(head)
    return ""


def _tell_heic(head: bytes) -> str:
    """Return HEIC when the brands of an ISO base media file promise an HEVC picture."""
    size = min(int.from_bytes(head[:4], "big"), len(head))
    major = head[8:12]
    brands = {head[at : at + 4] for at in range(16, size - 3, 4)} | {major}
    if major in HEIC_BRANDS | HEIC_SEQUENCE_BRANDS:
        return "HEIC"
    return "HEIC" if major in COVER_BRANDS and brands & HEIC_BRANDS else ""


def check_image(file: IO[bytes], format_name: str) -> tuple[int, int]:
    """Return width and height of a picture that can be decoded.

    Raises RefusedInputError with the end of a sentence ("is damaged …"). HEIC and very large PNG
    and WebP are judged by their header only; the worker decodes them.
    """
    file.seek(0)
    try:
        with Image.open(file, formats=[DECODERS[format_name]]) as picture:
            width, height = picture.size
            if width * height > MAX_PIXELS:
                raise RefusedInputError(TOO_MANY_PIXELS_WORDS)
            if format_name == "JPEG":
                picture.draft("RGB", (CHECK_PX, CHECK_PX))
                picture.load()
            elif format_name != "HEIC" and width * height <= DECODE_NOW_PX:
                picture.load()
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise RefusedInputError(TOO_MANY_PIXELS_WORDS) from error
    except BROKEN as error:
        raise RefusedInputError(BROKEN_WORDS) from error
    return width, height


def redraw(data: bytes, format_name: str) -> tuple[Rendition, Rendition]:
    """Return the page and the thumbnail rendition of a picture, upright.

    Raises RefusedInputError like `check_image`.
    """
    try:
        with Image.open(io.BytesIO(data), formats=[DECODERS[format_name]]) as picture:
            if picture.width * picture.height > MAX_PIXELS:
                raise RefusedInputError(TOO_MANY_PIXELS_WORDS)
            page = _redraw_page(_decode_heic(data) if format_name == "HEIC" else picture)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise RefusedInputError(TOO_MANY_PIXELS_WORDS) from error
    except BROKEN as error:
        raise RefusedInputError(BROKEN_WORDS) from error
    thumb = page.copy()
    thumb.thumbnail((THUMB_PX, THUMB_PX))
    return _encode(page), _encode(thumb)


def _redraw_page(picture: Image.Image) -> Image.Image:
    """Return a new upright picture of at most the page size: pixels and nothing else."""
    turn = UPRIGHT.get(picture.getexif().get(ORIENTATION_TAG, 1))
    profile = picture.info.get("icc_profile")
    # A JPEG decodes smaller; Pillow's own thumbnail asks for a square, which hinders that.
    picture.draft(None, _size_within(picture.size, round(WEB_PX * GAP)))
    if picture.mode.startswith("I"):  # 16 bits a pixel: keep the upper eight
        picture = picture.convert("I").point(lambda value: value * (1 / 256)).convert("L")
    elif picture.mode not in {"RGB", "L", "CMYK", "RGBA"}:
        picture = picture.convert("RGBA")
    # Shrinking comes first, so that the large picture is in memory only once.
    picture.thumbnail((WEB_PX, WEB_PX), reducing_gap=GAP)
    picture = _in_plain_colours(picture, profile)
    if turn is not None:
        picture = picture.transpose(turn)
    clean = Image.new("RGB", picture.size, PAPER)
    clean.paste(picture.convert("RGB"), mask=_mask_of(picture))
    return clean


def _size_within(size: tuple[int, int], longest: int) -> tuple[int, int]:
    """Return a size of the same shape whose longer side is at most `longest`."""
    scale = min(1.0, longest / max(size))
    return max(1, round(size[0] * scale)), max(1, round(size[1] * scale))


def _decode_heic(data: bytes) -> Image.Image:
    """Return a HEIC picture, shrunk strip by strip so that no second whole copy is made.

    The decoder has turned it upright already (ISO/IEC 23008-12: rotation is part of the picture).
    """
    heic = pillow_heif.open_heif(io.BytesIO(data), convert_hdr_to_8bit=True)
    width, height = heic.size
    factor = max(1, max(width, height) // round(WEB_PX * GAP))
    pixels = memoryview(heic.data)
    small = Image.new(heic.mode, (-(-width // factor), -(-height // factor)))
    for top in range(0, height, STRIP_ROWS * factor):
        rows = min(STRIP_ROWS * factor, height - top)
        strip = Image.frombytes(
            heic.mode,
            (width, rows),
            pixels[top * heic.stride : (top + rows) * heic.stride],
            "raw",
            (heic.mode, heic.stride),
        )
        small.paste(strip.reduce(factor), (0, top // factor))
    if "icc_profile" in heic.info:
        small.info["icc_profile"] = heic.info["icc_profile"]
    return small


def _in_plain_colours(picture: Image.Image, profile: bytes | None) -> Image.Image:
    """Return a picture in sRGB, so that colours survive the removal of the profile."""
    if not profile or picture.mode not in {"RGB", "CMYK"}:
        return picture
    try:
        changed = ImageCms.profileToProfile(
            picture,
            ImageCms.ImageCmsProfile(io.BytesIO(profile)),
            ImageCms.createProfile("sRGB"),
            outputMode="RGB",
        )
    except (ImageCms.PyCMSError, *BROKEN):  # a broken profile must not lose the picture
        return picture
    return changed or picture


def _mask_of(picture: Image.Image) -> Image.Image | None:
    """Return the opacity of a picture, if it has one."""
    return picture.getchannel("A") if picture.mode == "RGBA" else None


def _encode(picture: Image.Image) -> Rendition:
    """Return a picture as JPEG."""
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=JPEG_QUALITY, optimize=True, progressive=True)
    return Rendition(data=out.getvalue(), width=picture.width, height=picture.height)
