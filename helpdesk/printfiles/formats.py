"""Tell what a file holds from its bytes. Knows neither database nor storage.

The first bytes decide, the name's ending must agree, and what is packed is looked into under hard
limits before anything is kept: gzip streams (RFC 1952) are unpacked only to be counted, packages
(ZIP, ISO/IEC 21320-1) only have their directory read.
"""

import gzip
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import IO

from helpdesk.core.errors import RefusedInputError
from helpdesk.printfiles.limits import (
    MAX_MEMBERS,
    MAX_RATIO,
    MAX_SETTINGS_BYTES,
    MAX_SETTINGS_WORDS,
    MAX_UNPACKED_BYTES,
    MAX_UNPACKED_WORDS,
)
from helpdesk.printfiles.models import FileKind

HEAD_BYTES = 65_536
CHUNK = 1 << 20
ZIP_MARK, GZIP_MARK = b"PK\x03\x04", b"\x1f\x8b"
# Binary STL: a header, the number of triangles, 50 bytes each. Its header may begin with "solid",
# too, so the size decides (common practice, no source).
STL_HEADER, STL_TRIANGLE = 84, 50
MODEL_3MF = "3d/3dmodel.model"  # 3MF Core Specification: the usual part of the model
ENDINGS = {
    "gcode": "GCODE",
    "gco": "GCODE",
    "g": "GCODE",
    "gc": "GCODE",
    "nc": "GCODE",
    "gz": "GCODE.GZ",
    "stl": "STL",
    "3mf": "3MF",
    "obj": "OBJ",
    "txt": "TEXT",
    "ini": "TEXT",
    "cfg": "TEXT",
    "conf": "TEXT",
    "json": "TEXT",
    "log": "TEXT",
}
KINDS = {
    "GCODE": FileKind.PRINT_FILE,
    "GCODE.GZ": FileKind.PRINT_FILE,
    "STL": FileKind.MODEL,
    "3MF": FileKind.MODEL,
    "OBJ": FileKind.MODEL,
    "TEXT": FileKind.SETTINGS,
}
# A line of RS-274: an optional line number, then a G, M or T word.
_CODE_LINE = re.compile(rb"^\s*(?:N\d{1,5}\s+)?[GMT]\d{1,4}\b", re.I | re.M)
_VERTEX_LINE = re.compile(rb"^v\s+[-+.\d]", re.M)
_SOLID = re.compile(rb"\A\s*solid\b.*?\bfacet\b", re.I | re.S)


@dataclass(frozen=True)
class Told:
    """What a file holds: its format, and which kind of file that makes it."""

    format: str
    kind: FileKind


def ending_of(label: str) -> str:
    """Return the last ending of a name in lower case, without its dot."""
    return label.rpartition(".")[2].lower() if "." in label else ""


def is_zip(head: bytes) -> bool:
    """Return True when a file begins like a ZIP package."""
    return head.startswith(ZIP_MARK)


def tell_file(file: IO[bytes], label: str, size: int) -> Told:
    """Return what a file holds; raises RefusedInputError with the end of a sentence.

    The name's ending says what it should be, the content must agree.
    """
    wanted = ENDINGS.get(ending_of(label))
    if wanted is None:
        raise RefusedInputError(
            "is of a kind we do not take. We read photos, print files (G-code, also gzipped), "
            "models (STL, 3MF, OBJ) and settings as text."
        )
    file.seek(0)
    head = file.read(HEAD_BYTES)
    if not _agrees(wanted, file, head, size):
        raise RefusedInputError(f"does not hold what its name says (.{ending_of(label)}).")
    return Told(wanted, KINDS[wanted])


def _agrees(wanted: str, file: IO[bytes], head: bytes, size: int) -> bool:
    """Return True when the content is of the wanted format."""
    if wanted == "STL":
        return _is_stl(head, size)
    if wanted == "3MF":
        return is_zip(head) and _holds_3mf(file)
    if wanted == "GCODE.GZ":
        return head.startswith(GZIP_MARK) and _is_zipped_code(file, size)
    if b"\x00" in head:
        return False
    if wanted == "GCODE":
        return bool(_CODE_LINE.search(head))
    if wanted == "OBJ":
        return bool(_VERTEX_LINE.search(head))
    if size > MAX_SETTINGS_BYTES:
        raise RefusedInputError(f"is longer than the {MAX_SETTINGS_WORDS} of text we take.")
    return True


def _is_stl(head: bytes, size: int) -> bool:
    if size >= STL_HEADER:
        (triangles,) = struct.unpack_from("<I", head, 80)
        if size == STL_HEADER + STL_TRIANGLE * triangles:
            return True
    return b"\x00" not in head and bool(_SOLID.search(head))


def _is_zipped_code(file: IO[bytes], size: int) -> bool:
    """Return True for gzipped G-code; refuses one that unpacks to too much."""
    first = b""
    total = 0
    try:
        for chunk in _unpack(file):
            first = first or chunk[:HEAD_BYTES]
            total += len(chunk)
            if total > MAX_UNPACKED_BYTES or total > MAX_RATIO * max(size, CHUNK // MAX_RATIO):
                raise RefusedInputError(f"unpacks to more than the {MAX_UNPACKED_WORDS} we take.")
    except (OSError, EOFError, zlib.error):
        return False
    return b"\x00" not in first and bool(_CODE_LINE.search(first))


def _unpack(file: IO[bytes]) -> Iterator[bytes]:
    file.seek(0)
    with gzip.GzipFile(fileobj=file) as stream:
        while chunk := stream.read(CHUNK):
            yield chunk


def _holds_3mf(file: IO[bytes]) -> bool:
    return any(info.filename.lower().lstrip("/") == MODEL_3MF for info in list_members(file))


def list_members(file: IO[bytes]) -> Sequence[zipfile.ZipInfo]:
    """Return the files in a ZIP package, in its order, folders left out.

    Raises RefusedInputError with the end of a sentence for a package that is damaged, encrypted,
    too large unpacked, or made to mislead: too many entries, entries that share their bytes, links,
    absolute names or names that climb out of their folder.
    """
    file.seek(0)
    try:
        with zipfile.ZipFile(file) as package:
            infos = package.infolist()
    except (zipfile.BadZipFile, OSError, ValueError, struct.error, NotImplementedError) as error:
        raise RefusedInputError("is a damaged package.") from error
    if len(infos) > MAX_MEMBERS:
        raise RefusedInputError(f"holds more than {MAX_MEMBERS} files.")
    packed = sum(info.compress_size for info in infos)
    unpacked = sum(info.file_size for info in infos)
    if unpacked > MAX_UNPACKED_BYTES or unpacked > MAX_RATIO * max(packed, CHUNK // MAX_RATIO):
        raise RefusedInputError(f"unpacks to more than the {MAX_UNPACKED_WORDS} we take.")
    if len({info.header_offset for info in infos}) != len(infos) or _overlap(infos):
        raise RefusedInputError("holds files that share their bytes.")
    if any(info.flag_bits & 0x1 for info in infos):
        raise RefusedInputError("is locked with a password, so we cannot look into it.")
    if any(_misleads(info) for info in infos):
        raise RefusedInputError("holds links or names that point outside the package.")
    return [info for info in infos if not info.is_dir()]


def _overlap(infos: Sequence[zipfile.ZipInfo]) -> bool:
    """Return True when an entry's packed bytes run into the next entry."""
    order = sorted(infos, key=lambda info: info.header_offset)
    return any(
        first.header_offset + first.compress_size > second.header_offset
        for first, second in pairwise(order)
    )


def _misleads(info: zipfile.ZipInfo) -> bool:
    """Return True for links, absolute names and names with a step up."""
    is_link = (info.external_attr >> 16) & 0o170000 == 0o120000
    name = info.filename.replace("\\", "/")
    return is_link or name.startswith("/") or ".." in name.split("/") or ":" in name.split("/")[0]
