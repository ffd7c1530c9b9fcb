"""Bytes of a file to text."""

import codecs
import re

from triage.errors import CaptionError

_MARKS = (  # longest first: the mark of UTF-16 begins that of UTF-32
    (codecs.BOM_UTF32_LE, "utf-32-le", "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32-be", "utf-32"),
    (codecs.BOM_UTF8, "utf-8", "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le", "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16-be", "utf-16"),
)
_SAMPLE = 4096  # bytes looked at to tell UTF-16 without a mark
_MANY_ZEROS = 0.3  # of every second byte, as in UTF-16 of English words
_MANY_CONTROLS = 0.02  # of all characters: no text has so many
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f]")


def decode_captions(data: bytes) -> tuple[str, str, tuple[str, ...]]:
    r"""Return the text of a file, the name of its encoding, and notes about it.

    Line ends become ``\n``. A mark at the start tells the encoding; without one UTF-8 is tried,
    then UTF-16 where every second byte is 0, then Latin-1 as office programs write it.

    Raises
    ------
    CaptionError
        If the file is empty or no text.
    """
    if not data.strip(b"\x00 \t\r\n"):
        msg = "the file is empty"
        raise CaptionError(msg)
    text, encoding, notes = _decode(data)
    sample = text[:_SAMPLE]
    if len(_CONTROL.findall(sample)) > _MANY_CONTROLS * len(sample):
        msg = "the file is no text; captions are WebVTT or SubRip files"
        raise CaptionError(msg)
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\x00", "\ufffd")
    return text, encoding, notes


def _decode(data: bytes) -> tuple[str, str, tuple[str, ...]]:
    for mark, codec, name in _MARKS:
        if data.startswith(mark):
            body = data[len(mark) :]
            text = body.decode(codec, errors="replace")
            lost = text.count("\ufffd") - (body.count("\ufffd".encode()) if name == "utf-8" else 0)
            return text, name, _note_replaced(text, lost, name)
    wide = _guess_wide(data[:_SAMPLE])
    if wide:
        text = data.decode(wide, errors="replace")
        return text, "utf-16", ("The file has no byte order mark; it was read as UTF-16.",)
    try:
        return data.decode("utf-8"), "utf-8", ()
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        note = f"Line {line}: this is no UTF-8, so the file was read as Latin-1."
    try:
        return data.decode("cp1252"), "latin-1", (note,)
    except UnicodeDecodeError:
        return data.decode("latin-1"), "latin-1", (note,)


def _guess_wide(sample: bytes) -> str:
    """Return the codec of UTF-16 without a mark, or an empty string."""
    pairs = len(sample) // 2
    if pairs and sample[1::2].count(0) > _MANY_ZEROS * pairs > 2 * sample[::2].count(0):
        return "utf-16-le"
    if pairs and sample[::2].count(0) > _MANY_ZEROS * pairs > 2 * sample[1::2].count(0):
        return "utf-16-be"
    return ""


def _note_replaced(text: str, lost: int, name: str) -> tuple[str, ...]:
    if lost <= 0:
        return ()
    line = text.count("\n", 0, text.index("\ufffd")) + 1
    many = "characters are" if lost > 1 else "character is"
    return (
        f"Line {line}: {lost} {many} no {name.upper()}; a question mark in a box stands there.",
    )
