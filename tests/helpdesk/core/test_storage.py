"""Files beside the database."""

import pytest

from helpdesk.core.storage import clean_label, named


@pytest.mark.parametrize(
    ("name", "label"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\photos\\rook.jpg", "rook.jpg"),
        ("a\r\nSet-Cookie: x=1.jpg", "aSet-Cookie: x=1.jpg"),
        ("holiday\u202egpj.exe", "holidaygpj.exe"),
        ("", "photo"),
        ("-rf.jpg", "-rf.jpg"),
        ("x" * 300, "x" * 119 + "…"),
    ],
)
def test_clean_label_keeps_a_name_as_a_label_only(name, label):
    """Folders, line breaks and marks that turn text round are gone; long names are cut."""
    assert clean_label(name, limit=120, unnamed="photo") == label


def test_named_keeps_a_sentence_short():
    """A long name is cut where it stands in a sentence."""
    assert named("x" * 200) == "“" + "x" * 59 + "…”"
    assert named("rook.stl") == "“rook.stl”"
