"""Letters that came are handed out with their case, and go when their time is over."""

import datetime
import io
import json
import zipfile

import pytest

from helpdesk.core import clock
from helpdesk.keeping import services
from helpdesk.keeping.exports import stream_copy
from helpdesk.mailroom.models import IncomingMail, MailState
from helpdesk.mailroom.services import receive_letters, take_batch
from tests.helpdesk.mailroom.letters import STORY, letter

pytestmark = pytest.mark.django_db


def take(raw: bytes) -> IncomingMail:
    """Return a letter that was taken to a case of its own."""
    (kept,) = receive_letters([raw], origin="test", wants_receipt=False)
    assert isinstance(kept, IncomingMail)
    (mail,) = take_batch([kept])
    assert mail.state == MailState.TAKEN
    return mail


def test_copy_holds_the_letter_as_it_came():
    raw = letter(photos=1)
    mail = take(raw)
    assert mail.case is not None

    package = zipfile.ZipFile(io.BytesIO(b"".join(stream_copy([mail.case]))))

    (case,) = json.loads(package.read("data.json"))["cases"]
    (row,) = case["letters_in"]
    assert row["from"] == "bettine@tarnstreet.example"
    assert package.read(row["file"]) == raw


def test_letters_go_when_their_time_is_over_and_their_words_stay(
    settings, django_capture_on_commit_callbacks
):
    settings.KEEP_DAYS = {**settings.KEEP_DAYS, "mail": 10}
    old, young, aside = (take(letter()) for _ in range(3))
    long_ago = clock.now() - datetime.timedelta(days=11)
    IncomingMail.objects.filter(pk__in=[old.pk, aside.pk]).update(received_at=long_ago)
    IncomingMail.objects.filter(pk=aside.pk).update(state=MailState.QUARANTINED)
    storage, name = old.file.storage, str(old.file.name)

    with django_capture_on_commit_callbacks(execute=True):
        done = services.apply_rules()

    assert done["letters that came"] == 1
    old.refresh_from_db()
    assert (old.state, old.text) == (MailState.ERASED, "")
    assert not storage.exists(name)
    assert old.case is not None
    assert STORY in old.case.reports.get().story
    kept = IncomingMail.objects.filter(pk__in=[young.pk, aside.pk]).exclude(file="")
    assert kept.count() == 2
