"""What messages do to cases: reports, replies, edits, deletions, pictures, consent."""

import base64
from typing import Any

import pytest

from helpdesk.cases.models import Case, Message
from helpdesk.cases.services import Consent
from helpdesk.core.jobs import run_due_jobs
from helpdesk.hooks.models import HookMessage
from helpdesk.intake.services import erase
from helpdesk.photos.models import Photo
from tests.helpdesk.hooks.conftest import Post, report
from tests.helpdesk.pictures import draw_picture, picture_bytes

pytestmark = pytest.mark.django_db
CONSENT = {
    "may_publish_answer": True,
    "may_show_photos": True,
    "credit": "handle",
    "wording": "May The Salvage Hour show your photos and our answer? Say yes to agree.",
    "said_by": "bettine_h",
    "said_at": "2026-11-25T17:58:00+00:00",
}


def talk(kind: str, **data: object) -> dict[str, Any]:
    """Return a message that belongs to the conversation of the report."""
    return {"type": kind, "data": {"conversation": "thread-1", **data}}


def test_inline_picture_is_kept_with_its_description(post: Post) -> None:
    picture = base64.b64encode(picture_bytes(draw_picture(64, 64))).decode()
    post(report(pictures=[{"base64": picture, "label": "box.jpg", "alt": "A box, corners up"}]))
    run_due_jobs()

    photo = Photo.objects.get()
    assert (photo.case, photo.alt_text) == (Case.objects.get(), "A box, corners up")


def test_picture_that_is_none_costs_only_itself(post: Post) -> None:
    """A text that says it is a picture, and letters that are not base64."""
    pictures = [
        {"base64": base64.b64encode(b"<svg onload=alert(1)>").decode(), "label": "a.png"},
        {"base64": "***", "label": "b.png"},
    ]
    post(report(pictures=pictures))
    run_due_jobs()

    case = Case.objects.get()
    assert not Photo.objects.exists()
    whys = "\n".join(case.events.filter(kind="attachment").values_list("why", flat=True))
    assert "a.png" in whys
    assert "“b.png” is not base64." in whys


def test_nothing_is_agreed_unless_it_is_said(post: Post) -> None:
    post(report())
    run_due_jobs()

    case = Case.objects.get()
    assert not case.may_publish_answer
    assert not case.may_show_photos
    assert case.credit_kind == "anonymous"


def test_consent_is_kept_with_its_words_and_who_said_it_when(post: Post) -> None:
    post(report(consent=CONSENT))
    run_due_jobs()

    case = Case.objects.get()
    assert (case.may_publish_answer, case.may_show_photos) == (True, True)
    assert (case.credit_kind, case.spoken_credit) == ("handle", "bettine_h")
    assert case.consents.latest("pk").given_by == "bettine_h"
    event = case.events.get(kind="consent_words")
    assert event.why == CONSENT["wording"]
    assert event.data["said_at"] == CONSENT["said_at"]


def test_consent_for_somebody_elses_print_is_noted_and_not_used(post: Post) -> None:
    owner = {"handle": "quiet_maker", "link": "https://social.tarnstreet.example/quiet_maker"}
    post(report(forwarded_for=owner, consent=CONSENT))
    run_due_jobs()

    case = Case.objects.get()
    assert (case.is_own_print, case.owner_name) == (False, "quiet_maker")
    assert case.owner_link == owner["link"]
    assert not case.may_show_photos
    assert case.events.filter(kind="consent_words", what__contains="not used").exists()


def test_reply_reaches_the_case_of_its_conversation(post: Post) -> None:
    post(report())
    run_due_jobs()
    post(talk("reply.created", text="It is a new nozzle."), message_id="msg_2")
    run_due_jobs()

    message = Message.objects.get(kind="reply")
    assert (message.body, message.channel) == ("It is a new nozzle.", "chat")


def test_reply_may_name_the_case(post: Post) -> None:
    post(report())
    run_due_jobs()
    case = Case.objects.get()
    message = {"type": "reply.created", "data": {"case": case.pk, "text": "It is dry."}}

    assert post(message, message_id="msg_2").status_code == 202
    run_due_jobs()

    assert case.messages.get(kind="reply").body == "It is dry."


def test_second_report_in_a_conversation_is_added_to_its_case(post: Post) -> None:
    post(report())
    post(report(text="And now the plate came loose."), message_id="msg_2")
    run_due_jobs()

    assert Case.objects.get().messages.get(kind="reply").body == "And now the plate came loose."


def test_edit_stands_beside_what_was_said_before(post: Post) -> None:
    post(report())
    run_due_jobs()
    post(talk("message.edited", text="It was PETG after all."), message_id="msg_2")
    run_due_jobs()

    case = Case.objects.get()
    assert case.reports.get().story.startswith("The corners of my box")
    assert case.messages.get(kind="reply").body.endswith("It was PETG after all.")


def test_deletion_withdraws_consent_and_erases_nothing(post: Post) -> None:
    post(report(consent=CONSENT))
    run_due_jobs()
    post(talk("message.deleted"), message_id="msg_2")
    run_due_jobs()

    case = Case.objects.get()
    assert not case.may_show_photos
    assert case.erased_at is None
    assert case.reports.get().story
    assert case.state == "received"


def test_message_of_an_erased_case_is_refused_and_its_words_are_gone(post: Post) -> None:
    post(report(consent=CONSENT))
    run_due_jobs()
    post(talk("reply.created", text="My name is Bettine."), message_id="msg_2")
    erase(Case.objects.get().pk)
    run_due_jobs()

    assert set(HookMessage.objects.values_list("body", "conversation")) == {("", "")}
    assert not Message.objects.exists()
    assert post(report(consent=CONSENT)).status_code == 202, "known again by its hash"
    run_due_jobs()
    assert Case.objects.count() == 1


def test_link_that_is_none_is_left_out(post: Post) -> None:
    post(report(link="javascript:alert(1)"))
    run_due_jobs()

    assert Case.objects.get().reports.get().link == ""


def test_title_and_facts_are_taken_over(post: Post) -> None:
    facts = {"process": "MEX", "machine": "Tern 220", "material": "PLA"}
    post(report(title="Box with lifted corners", facts=facts))
    run_due_jobs()

    case = Case.objects.get()
    assert (case.title, case.machine, case.material) == (
        "Box with lifted corners",
        "Tern 220",
        "PLA",
    )
    assert Consent().may_show_photos is case.may_show_photos
