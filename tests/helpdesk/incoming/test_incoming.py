"""Every channel hands over to the same two services."""

from typing import Any

import pytest
from django.core.files.base import ContentFile

from helpdesk.cases.models import Channel, MessageKind
from helpdesk.cases.services import NewReport, change_state, erase_person
from helpdesk.core.errors import WrongStateError
from helpdesk.incoming.services import take_reply, take_report
from helpdesk.incoming.values import Attachment
from helpdesk.outbox.models import OutgoingMail
from tests.factories import make_case
from tests.helpdesk.pictures import picture_bytes
from tests.helpdesk.printfiles.test_formats import CODE, binary_stl, package

pytestmark = pytest.mark.django_db


def attached(label: str, data: bytes) -> Attachment:
    """Return a file as a channel hands it over."""
    return Attachment(label=label, file=ContentFile(data, name=label))


def report(**fields: Any) -> NewReport:
    """Return a report that came by chat."""
    values: dict[str, Any] = {
        "story": "The rook has holes near the top.",
        "submission_key": "chat:1",
        "channel": Channel.CHAT,
        "email": "bettine@tarnstreet.example",
    }
    return NewReport(**(values | fields))


def test_take_report_keeps_photos_files_and_what_is_packed():
    """Each file goes where it belongs; what is refused is written into the history."""
    packed = package(
        {
            "prints/rook.stl": binary_stl(2),
            "photo.png": picture_bytes(format_name="PNG"),
            "__MACOSX/._rook.stl": b"x",
            "more.zip": package({"a.stl": binary_stl(1)}),
        }
    )

    taken = take_report(
        report(),
        [
            attached("one.jpg", picture_bytes()),
            attached("rook.gcode", CODE),
            attached("all.zip", packed),
            attached("virus.exe", b"MZ"),
        ],
    )

    assert (taken.kept.photos, taken.kept.files, len(taken.kept.refusals)) == (2, 2, 2)
    assert taken.case.photos.count() == 2
    assert set(taken.case.files.values_list("label", flat=True)) == {"rook.gcode", "rook.stl"}
    event = taken.case.events.get(kind="attachment")
    assert "virus.exe" in event.why
    assert "more.zip" in event.why


def test_take_report_twice_is_one_case_and_one_receipt():
    """A channel that was killed half-way hands over again without harm."""
    first, second = take_report(report()), take_report(report())

    assert first.is_new
    assert not second.is_new
    assert first.case == second.case
    assert OutgoingMail.objects.filter(case=first.case).count() == 1


def test_take_reply_brings_the_case_back_and_tells_its_route():
    """A reply is kept once, with its files, and it is the desk's turn."""
    case = make_case()
    change_state(case, "asked")
    photo = attached("two.jpg", picture_bytes())

    first = take_reply(
        case.pk, key="mail:9", words="Only on the left.", channel=Channel.MAIL, attachments=[photo]
    )
    again = take_reply(case.pk, key="mail:9", words="Only on the left.", channel=Channel.MAIL)

    case.refresh_from_db()
    assert first.is_new
    assert not again.is_new
    message = case.messages.get(kind=MessageKind.REPLY)
    assert (message.body, message.channel) == ("Only on the left.", Channel.MAIL)
    assert case.state == "received"
    assert case.photos.get().from_follow_up
    assert case.events.get(kind="reply").what == "Reply with 1 photo"


def test_take_reply_refuses_an_erased_case():
    """Nothing is added to what was forgotten."""
    case = make_case()
    erase_person(case, by="the person")

    with pytest.raises(WrongStateError):
        take_reply(case.pk, key="mail:9", words="Hello?", channel=Channel.MAIL)


def test_take_report_keeps_the_rest_of_a_damaged_package():
    """A package whose directory is gone costs only itself."""
    broken = package({"rook.stl": binary_stl(2)})[:-10]

    taken = take_report(report(), [attached("all.zip", broken), attached("rook.gcode", CODE)])

    assert taken.kept.files == 1
    assert "damaged" in taken.kept.refusals[0]
