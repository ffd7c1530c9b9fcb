"""Files are told by what is in them, and packages are looked into under limits."""

import gzip
import io
import struct
import zipfile

import pytest

from helpdesk.core.errors import RefusedInputError
from helpdesk.printfiles import formats
from helpdesk.printfiles.formats import list_members, tell_file
from helpdesk.printfiles.limits import MAX_MEMBERS
from helpdesk.printfiles.models import FileKind

CODE = b"; a small print\nG28\nM104 S210\nG1 X10 Y10 E0.4 F1200\n"
VERTICES = b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"
SOLID = b"solid rook\n facet normal 0 0 1\n  outer loop\n"


def binary_stl(triangles: int, header: bytes = b"") -> bytes:
    """Return a binary STL of empty triangles."""
    return header.ljust(80, b" ") + struct.pack("<I", triangles) + bytes(50 * triangles)


def package(members: dict[str, bytes]) -> bytes:
    """Return a ZIP package of files by name."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as target:
        for name, content in members.items():
            target.writestr(name, content)
    return buffer.getvalue()


def tell(label: str, data: bytes) -> formats.Told:
    """Tell a file of some bytes."""
    return tell_file(io.BytesIO(data), label, len(data))


@pytest.mark.parametrize(
    ("label", "data", "format_name", "kind"),
    [
        ("rook.gcode", CODE, "GCODE", FileKind.PRINT_FILE),
        ("ROOK.GCO", CODE, "GCODE", FileKind.PRINT_FILE),
        ("rook.gcode.gz", gzip.compress(CODE, mtime=0), "GCODE.GZ", FileKind.PRINT_FILE),
        ("rook.stl", binary_stl(12), "STL", FileKind.MODEL),
        ("rook.stl", binary_stl(12, b"solid says the header"), "STL", FileKind.MODEL),
        ("rook.stl", SOLID, "STL", FileKind.MODEL),
        ("rook.obj", VERTICES, "OBJ", FileKind.MODEL),
        ("rook.3mf", package({"3D/3dmodel.model": b"<model/>"}), "3MF", FileKind.MODEL),
        ("profile.ini", b"layer_height = 0.2\n", "TEXT", FileKind.SETTINGS),
    ],
)
def test_tell_file_names_format_and_kind(label, data, format_name, kind):
    """The content agrees with the ending; 12 triangles are 684 bytes (84 + 50 n, from memory)."""
    told = tell(label, data)

    assert (told.format, told.kind) == (format_name, kind)


@pytest.mark.parametrize(
    ("label", "data"),
    [
        ("rook.stl", binary_stl(12)[:-1]),
        ("rook.stl", CODE),
        ("rook.gcode", binary_stl(3)),
        ("rook.gcode", b"Dear all, nothing prints.\n"),
        ("rook.gcode.gz", CODE),
        ("rook.gcode.gz", gzip.compress(CODE, mtime=0)[:-9]),
        ("rook.3mf", package({"rook.stl": binary_stl(1)})),
        ("rook.3mf", b"PK\x03\x04 cut short"),
        ("rook.exe", b"MZ" + bytes(200)),
        ("rook.svg", b"<svg onload='x'/>"),
        ("rook", CODE),
        ("rook.stl.php", binary_stl(1)),
        ("settings.txt", b"\x00\x01"),
    ],
)
def test_tell_file_refuses_what_its_name_does_not_say(label, data):
    """Neither a lying name nor an unknown ending gets in."""
    with pytest.raises(RefusedInputError):
        tell(label, data)


def test_tell_file_refuses_code_that_unpacks_to_too_much():
    """A small gzip file of blanks that would fill the memory stops at the limit."""
    bomb = gzip.compress(CODE + b" " * (40 << 20))

    with pytest.raises(RefusedInputError, match="unpacks to more"):
        tell("rook.gcode.gz", bomb)


@pytest.mark.parametrize("name", ["../rook.stl", "/rook.stl", "a/../../rook.stl", "C:/rook.stl"])
def test_list_members_refuses_names_that_climb_out(name):
    """No name of a package points outside it."""
    with pytest.raises(RefusedInputError, match="outside the package"):
        list_members(io.BytesIO(package({name: b"solid"})))


def test_list_members_refuses_a_link():
    """A symbolic link (Unix mode 0120000) in a package is refused."""
    buffer = io.BytesIO()
    info = zipfile.ZipInfo("rook.stl")
    info.external_attr = 0o120777 << 16
    with zipfile.ZipFile(buffer, "w") as target:
        target.writestr(info, "/etc/passwd")

    with pytest.raises(RefusedInputError, match="outside the package"):
        list_members(buffer)


def test_list_members_refuses_too_many_and_too_large():
    """Entries and unpacked bytes are capped by what the directory declares."""
    many = package({f"{number}.stl": b"" for number in range(MAX_MEMBERS + 1)})
    large = package({"a.stl": bytes(60 << 20)})

    with pytest.raises(RefusedInputError, match="more than"):
        list_members(io.BytesIO(many))
    with pytest.raises(RefusedInputError, match="unpacks to more"):
        list_members(io.BytesIO(large))


def test_list_members_refuses_entries_that_share_their_bytes():
    """A package whose directory names the same bytes twice is made to mislead (CVE-2024-0450)."""
    data = bytearray(package({"a.stl": b"x" * 90, "b.stl": b"x" * 90}))
    second = data.rindex(b"PK\x01\x02")
    data[second + 42 : second + 46] = struct.pack("<I", 0)

    with pytest.raises(RefusedInputError, match="share their bytes"):
        list_members(io.BytesIO(bytes(data)))


def test_list_members_leaves_folders_out():
    """Only files are listed."""
    assert [
        info.filename for info in list_members(io.BytesIO(package({"a/": b"", "a/b.stl": b"x"})))
    ] == ["a/b.stl"]
