"""A person's copy: everything the desk holds of their cases, as one package (ZIP).

The schema of `data.json` is documented in docs/data-protection.md. An app adds what it holds in
its own module named ``exporting``, which is loaded at start-up. The package is written while it is
sent, so that its size costs no memory.
"""

import json
import re
import zipfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from io import BytesIO
from typing import IO, Any, cast

from django.conf import settings
from django.http import StreamingHttpResponse
from django.utils.http import content_disposition_header

from helpdesk.cases.models import Case
from helpdesk.core import clock
from helpdesk.core.http import lock_down

FORMAT, VERSION = "printward-copy", 1
CHUNK = 1 << 16
DATA_NAME = "data.json"
README_NAME = "read me first.txt"
NAME_CHARS = 80
README = """This is a copy of everything {desk} keeps of you and your prints.

data.json holds all words and facts; its fields are described in the desk's documents. The folders
hold your photos, your print files and models, and the letters written to you, by case number.
"""
# What some system does not take in a file's name, or reads as a way out of the folder.
_UNSAFE = re.compile(r'[\x00-\x1f\x7f<>:"/\\|?*]+')


@dataclass(frozen=True)
class CopiedFile:
    """A file of the package: its name there, and how to open it."""

    name: str
    open: Callable[[], IO[bytes]]
    is_packed: bool = False  # photos and packages are small already


@dataclass(frozen=True)
class CopyPart:
    """What one app holds of a case: plain values for `data.json`, and files they name."""

    data: Any
    files: Sequence[CopiedFile] = field(default_factory=tuple)


Exporter = Callable[[Case], CopyPart]
_exporters: dict[str, Exporter] = {}


def exporter(name: str) -> Callable[[Exporter], Exporter]:
    """Register what one app hands out of a case, as the field `name` of the case."""

    def register(function: Exporter) -> Exporter:
        _exporters[name] = function
        return function

    return register


def stream_copy(cases: Iterable[Case], *, person: Any = None) -> Iterator[bytes]:
    """Yield the package of some cases; `person` is what is known of them beside the cases."""
    parts = [(case, {name: make(case) for name, make in _exporters.items()}) for case in cases]
    data = {
        "format": FORMAT,
        "version": VERSION,
        "desk": settings.DESK_NAME,
        "made_at": clock.now().isoformat(),
        "person": person,
        "cases": [
            {"number": case.pk, **{name: part.data for name, part in made.items()}}
            for case, made in parts
        ],
    }
    words = json.dumps(data, ensure_ascii=False, indent=2).encode()
    files = [
        text_file(README_NAME, README.format(desk=settings.DESK_NAME)),
        text_file(DATA_NAME, words),
        *(file for _, made in parts for part in made.values() for file in part.files),
    ]
    return _pack(files)


def copy_response(package: Iterator[bytes], *, name: str) -> StreamingHttpResponse:
    """Return the answer that sends a package as a download."""
    response = StreamingHttpResponse(package, content_type="application/zip")
    label = f"{name}-{clock.today():%Y-%m-%d}.zip"
    response["Content-Disposition"] = str(content_disposition_header(True, label))
    return lock_down(response)


def text_file(name: str, words: str | bytes) -> CopiedFile:
    """Return a file of words."""
    content = words.encode() if isinstance(words, str) else words
    return CopiedFile(name=name, open=lambda: BytesIO(content), is_packed=True)


def file_name(case: Case, folder: str, place: int, label: str) -> str:
    """Return a name inside the package that leads nowhere else on any system."""
    safe = _UNSAFE.sub("_", label).strip(" .")[-NAME_CHARS:]
    return f"case-{case.pk}/{folder}/{place:02}-{safe or 'file'}"


class _Sink:
    """Where the package is written: keeps what was not sent yet."""

    def __init__(self) -> None:
        self._waiting = bytearray()

    def write(self, data: bytes) -> int:
        self._waiting += data
        return len(data)

    def flush(self) -> None:
        """Do nothing: whoever sends takes what is there."""

    def take(self) -> bytes:
        """Return what was written since the last time."""
        taken = bytes(self._waiting)
        self._waiting.clear()
        return taken


def _pack(files: Iterable[CopiedFile]) -> Iterator[bytes]:
    """Yield a package of files; one that was removed meanwhile is left out."""
    sink = _Sink()
    moment = clock.now().timetuple()[:6]
    with zipfile.ZipFile(cast("IO[bytes]", sink), "w") as package:
        for file in files:
            try:
                source = file.open()
            except FileNotFoundError:
                continue
            info = zipfile.ZipInfo(file.name, moment)
            info.compress_type = zipfile.ZIP_DEFLATED if file.is_packed else zipfile.ZIP_STORED
            with source, package.open(info, "w", force_zip64=True) as target:
                while chunk := source.read(CHUNK):
                    target.write(chunk)
                    yield sink.take()
    yield sink.take()
