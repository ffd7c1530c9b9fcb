"""A person's copy: whole, readable by other programs, and nobody else's."""

import io
import json
import re
import subprocess
import sys
import tracemalloc
import zipfile
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.files.base import ContentFile
from django.urls import reverse
from jsonschema import Draft202012Validator

from helpdesk.cases.models import Event
from helpdesk.core.models import Bucket
from helpdesk.keeping.exporting import describe_person
from helpdesk.keeping.exports import CopiedFile, _pack, file_name, stream_copy
from helpdesk.photos.models import Photo
from helpdesk.photos.services import remove_photo
from tests.factories import make_case
from tests.helpdesk.keeping.conftest import GCODE, MARK, make_full

pytestmark = pytest.mark.django_db
DOCUMENT = Path(settings.BASE_DIR) / "docs" / "data-protection.md"


def schema():
    """Return the JSON schema as the document prints it."""
    found = re.search(r"```json\n(.*?)```", DOCUMENT.read_text(), re.DOTALL)
    assert found
    return json.loads(found[1])


def packed(response: Any) -> zipfile.ZipFile:
    """Return what was downloaded."""
    return zipfile.ZipFile(io.BytesIO(b"".join(response.streaming_content)))


def test_copy_holds_everything_of_the_case_and_no_note_between_reviewers(client, full):
    response = client.post(reverse("intake:copy", args=[full.token]))

    package = packed(response)
    assert package.testzip() is None
    (case,) = json.loads(package.read("data.json"))["cases"]
    assert case["number"] == full.case.pk
    assert MARK in case["reports"][0]["story"]
    assert case["case"]["sent_by"]["email"] == full.case.email
    assert case["case"]["confirmed"] == ["belt-loose"]
    assert case["answers"][0]["words"] == full.answer.sent_text
    assert case["outcomes"][0]["words"] == f"{MARK} stays flat"
    (photo,) = case["photos"]
    assert package.read(photo["original"]) == full.original
    assert package.read(photo["file"])[:3] == b"\xff\xd8\xff"  # ITU-T T.81: start of a JPEG
    assert package.read(case["files"][0]["file"]) == GCODE
    letters = [package.read(letter["file"]).decode() for letter in case["letters"]]
    assert any(full.answer.sent_text[:40] in words for words in letters)
    assert "Between us" not in package.read("data.json").decode()


def test_copy_fits_its_documented_schema(full):
    """JSON Schema draft 2020-12, checked by the library jsonschema."""
    package = io.BytesIO(b"".join(stream_copy([full.case], person=describe_person(full.person))))
    data = json.loads(zipfile.ZipFile(package).read("data.json"))
    validator = Draft202012Validator(schema())
    Draft202012Validator.check_schema(schema())

    assert list(validator.iter_errors(data)) == []
    del data["cases"][0]["consents"]
    assert not validator.is_valid(data)


def test_copy_says_the_very_words_that_were_agreed_to(full):
    package = zipfile.ZipFile(io.BytesIO(b"".join(stream_copy([full.case]))))
    (consent,) = json.loads(package.read("data.json"))["cases"][0]["consents"]

    assert consent["wording"] == "2026-11"
    assert settings.SHOW_NAME in consent["words_asked"]["photos"]
    assert consent["name"] == {"how": "name", "as": MARK}


def test_copy_opens_with_another_program(full, tmp_path):
    """The zipfile command line of the interpreter, and the system's unzip where it is there."""
    path = tmp_path / "copy.zip"
    path.write_bytes(b"".join(stream_copy([full.case])))

    done = subprocess.run(  # noqa: S603 - our own command
        [sys.executable, "-m", "zipfile", "-t", str(path)], capture_output=True, check=True
    )
    subprocess.run(  # noqa: S603
        [sys.executable, "-m", "zipfile", "-e", str(path), str(tmp_path / "out")], check=True
    )

    assert b"Done testing" in done.stdout
    assert (tmp_path / "out" / "data.json").exists()


def test_copy_by_a_link_is_of_that_case_only(client, full, reviewer):
    """Anybody may name an address on a form, so a link opens no other case of the address."""
    other = make_case(email=full.case.email, story="Another print, another day, plum-coloured.")

    package = packed(client.post(reverse("intake:copy", args=[full.token])))

    data = json.loads(package.read("data.json"))
    assert [case["number"] for case in data["cases"]] == [full.case.pk]
    assert data["person"] is None
    assert "plum-coloured" not in str(data)
    assert other.pk


def test_copy_needs_a_press_and_is_not_made_often(client, full, settings):
    settings.LIMITS = {**settings.LIMITS, "copies": 2}
    address = reverse("intake:copy", args=[full.token])

    assert client.get(address).status_code == 405
    for _ in range(2):
        assert packed(client.post(address)).testzip() is None
    refused = client.post(address)

    assert refused.status_code == 429
    assert int(refused["Retry-After"]) > 0
    assert Bucket.objects.exists()


def test_copy_is_private_and_runs_nowhere(client, full):
    response = client.post(reverse("intake:copy", args=[full.token]))
    response.close()

    assert "attachment" in response["Content-Disposition"]
    assert "no-store" in response["Cache-Control"]
    assert response["X-Content-Type-Options"] == "nosniff"


def test_copy_of_a_person_holds_all_their_cases_and_is_noted(as_user, reviewer, full):
    second = make_full(reviewer, story="A second one.")

    response = as_user(reviewer).post(reverse("keeping:copy_person", args=[full.person.pk]))

    data = json.loads(packed(response).read("data.json"))
    assert [case["number"] for case in data["cases"]] == [full.case.pk, second.case.pk]
    assert data["person"]["contacts"][0]["value"] == full.case.email
    assert Event.objects.filter(kind="copy").count() == 2


def test_copy_leaves_out_a_file_that_goes_meanwhile(full):
    photo = Photo.objects.get()
    stream = stream_copy([full.case])
    photo.web.storage.delete(str(photo.web.name))

    package = zipfile.ZipFile(io.BytesIO(b"".join(stream)))

    assert package.testzip() is None
    assert not any(name.endswith("photo.jpg") for name in package.namelist())
    remove_photo(photo)


@pytest.mark.parametrize(
    "label", ["../../etc/passwd", "..\\..\\x", "C:\\x.gcode", "a\x00b", "...", "", 'q"<>|?*.stl']
)
def test_file_name_stays_in_its_folder(label):
    """No separator, drive, NUL or name of dots: APPNOTE.TXT 4.4.17 wants relative names, "/"."""
    case = make_case()
    name = file_name(case, "files", 1, label)

    assert re.fullmatch(rf"case-{case.pk}/files/01-[^/\\:\x00]+", name)
    assert ".." not in name.split("/")


def test_large_copy_costs_no_memory():
    """64 MB of files pass through less than 4 MB."""
    block = b"x" * (16 << 20)
    files = [CopiedFile(name=f"{n}.bin", open=lambda: ContentFile(block).open()) for n in range(4)]
    tracemalloc.start()
    total = sum(len(chunk) for chunk in _pack(files))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()

    assert total > 64 << 20
    assert peak < 4 << 20
