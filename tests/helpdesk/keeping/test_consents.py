"""What was agreed, when, by whom and in which words."""

import pytest
from django.conf import settings
from django.urls import reverse

from helpdesk.cases.models import Channel
from helpdesk.cases.services import CONSENT_WORDING, Consent, record_consent
from helpdesk.cases.wordings import WORDINGS
from helpdesk.keeping.consents import list_consents
from tests.factories import make_case

pytestmark = pytest.mark.django_db
TOLD = {
    "may_show_photos": "on",
    "credit_kind": "anonymous",
    "given_by": "Aurel, whose print it is",
    "where": "chat server, 25 November",
    "quote": "Sure, show the pictures, just leave my name out.",
}


def uses(case):
    case.refresh_from_db()
    return {use.use: use for use in list_consents(case)}


def test_form_asks_in_the_very_words_that_are_kept(client):
    """The words shown to a person are those of the version their consent names."""
    page = client.get("/report").content.decode()

    for use in ("answer", "photos", "name"):
        assert WORDINGS[CONSENT_WORDING].asked(use) in page


def test_wording_of_the_first_version_stays_as_it_was_read():
    """Words people agreed to are never changed; a change is a new version."""
    first = WORDINGS["2026-11"]

    assert first.answer == "You may publish your answer, without my name"
    assert first.photos == "You may show my photos on {show} and beside the published answer"
    assert first.name == "How may we name you?"


def test_consents_are_told_use_by_use_with_words_and_way():
    case = make_case(
        channel=Channel.MAIL,
        consent=Consent(may_show_photos=True, credit_kind="name", credit_as="Bettine"),
    )

    told = uses(case)

    (photos,) = told["photos"].said
    assert told["photos"].is_allowed
    assert (photos.by, photos.how) == ("Bettine Halvorsen", "with the report, by e-mail")
    assert settings.SHOW_NAME in photos.words
    assert photos.at == case.opened_at
    assert told["name"].said[0].value == "by name: Bettine"
    assert not told["answer"].is_allowed


def test_consents_show_what_was_taken_back_and_repeat_nothing():
    case = make_case(consent=Consent(may_show_photos=True))
    record_consent(case, Consent(may_show_photos=True), given_by="Bettine")
    record_consent(case, Consent(), given_by="Bettine")

    photos = uses(case)["photos"]

    assert [said.value for said in photos.said] == ["no", "yes"]
    assert photos.was_taken_back
    assert photos.said[0].how == "on the private page"
    assert not uses(case)["answer"].was_taken_back


def test_consents_of_the_young_wait_for_the_guardian():
    case = make_case(consent=Consent(may_show_photos=True, is_under_16=True))
    assert uses(case)["photos"].said[0].waits_for_guardian
    assert not uses(case)["photos"].is_allowed

    agreed = Consent(may_show_photos=True, is_under_16=True, guardian_agreed=True)
    record_consent(case, agreed, given_by="Edda (guardian)")

    assert uses(case)["photos"].is_allowed
    assert len(uses(case)["photos"].said) == 2


def test_owner_of_a_print_passed_on_is_quoted(as_user, reviewer):
    """A reviewer keeps the owner's own words; without them nothing is agreed."""
    case = make_case(is_own_print=False, owner_name="Aurel")
    address = reverse("keeping:keep_told", args=[case.pk])
    desk = as_user(reviewer)

    refused = desk.post(address, TOLD | {"quote": "  "})
    assert refused.status_code == 422
    assert not uses(case)["photos"].is_allowed
    assert desk.post(address, TOLD).status_code == 302

    photos = uses(case)["photos"]
    assert photos.is_allowed
    assert photos.said[0].words == TOLD["quote"]
    assert photos.said[0].how == "told to us, chat server, 25 November"
    assert TOLD["quote"] in desk.get(reverse("keeping:consents", args=[case.pk])).content.decode()


def test_told_consent_refused_keeps_what_was_typed(as_user, reviewer):
    case = make_case()
    address = reverse("keeping:keep_told", args=[case.pk])

    response = as_user(reviewer).post(address, TOLD | {"credit_kind": "name", "given_by": ""})

    page = response.content.decode()
    assert response.status_code == 422
    assert "leave my name out" in page
    assert "Please say who said it." in page
    assert "Please write the name" in page


def test_producer_reads_but_does_not_write(as_user, producer):
    case = make_case()
    desk = as_user(producer)

    page = desk.get(reverse("keeping:consents", args=[case.pk]))

    assert page.status_code == 200
    assert "Keep what they said" not in page.content.decode()
    assert desk.post(reverse("keeping:keep_told", args=[case.pk]), TOLD).status_code == 403
