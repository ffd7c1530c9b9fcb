"""What is taken back vanishes wherever it was used, and the producer is told."""

from typing import Any

import pytest
from django.urls import reverse

from helpdesk.answers.publishing import Publication, PublishedPhoto, publish_answer
from helpdesk.answers.services import draft_answer, send_answer
from helpdesk.cases.erasure import erase_parts
from helpdesk.cases.models import Channel
from helpdesk.cases.services import Consent, erase_person, record_consent
from helpdesk.core.jobs import run_due_jobs, start_job
from helpdesk.episodes import services
from helpdesk.episodes.errors import NotReadyError
from helpdesk.episodes.models import Withdrawal
from helpdesk.episodes.selectors import get_run_sheet, list_reserve
from helpdesk.episodes.withdrawals import note_withdrawal
from helpdesk.people.models import Role
from helpdesk.people.services import change_person, note_people
from helpdesk.photos.services import receive_photo
from tests.architecture.world import make_picture
from tests.factories import make_case
from tests.helpdesk.episodes.test_services import make_episode, shown_case

pytestmark = pytest.mark.django_db
NOTHING = Consent()
NAMED: dict[str, Any] = {"credit_kind": "name", "credit_as": "Bettine"}


def take_back(case, consent=NOTHING):
    """Change what is allowed and let the worker tell of it."""
    case.refresh_from_db()
    record_consent(case, consent, given_by="Bettine")
    run_due_jobs()


def test_photos_leave_the_public_pages_at_once(client, as_user, reviewer):
    """List, page and file of a published answer; no job has to run first."""
    agreed = Consent(may_publish_answer=True, may_show_photos=True)
    case = make_case(consent=agreed)
    photo = receive_photo(make_picture(64), label="a.jpg", case=case, alt_text="A white box")
    run_due_jobs()
    draft = draft_answer(case, reviewer)
    answer = send_answer(draft.pk, draft.version, reviewer, Channel.MAIL)
    publication = Publication(
        title="Why do corners lift?",
        body="Plastic shrinks as it cools.",
        photos=[PublishedPhoto(photo.pk, "A white box")],
        has_looked_for_names=True,
        has_looked_at_photos=True,
    )
    publish_answer(answer.pk, publication, reviewer)
    file = reverse("answers:photo", args=[answer.pk, photo.pk, "thumb"])
    page = reverse("answers:published", args=[answer.pk])
    shown = client.get(file)
    assert b"".join(shown.streaming_content)[:3] == b"\xff\xd8\xff"  # ITU-T T.81
    assert f"/photos/{photo.pk}/" in client.get("/answers").content.decode()

    case.refresh_from_db()
    record_consent(case, Consent(may_publish_answer=True), given_by="Bettine")

    assert client.get(file).status_code == 404
    for address in ("/answers", page):
        html = client.get(address).content.decode()
        assert "corners lift" in html
        assert f"/photos/{photo.pk}/" not in html
    case.refresh_from_db()
    record_consent(case, NOTHING, given_by="Bettine")
    assert client.get(page).status_code == 404
    assert "corners lift" not in client.get("/answers").content.decode()


def test_reserve_loses_the_case_at_once_and_gets_it_back(producer):
    case = shown_case()
    services.add_candidate(case, actor=producer)
    never_asked = make_case()
    services.add_candidate(never_asked, actor=producer)

    record_consent(case, NOTHING, given_by="Bettine")
    assert [c.case for c in list_reserve()] == [never_asked]

    record_consent(case, Consent(may_show_photos=True), given_by="Bettine")
    assert [c.case for c in list_reserve()] == [case, never_asked]


def test_sheet_is_blocked_and_says_why_at_once(producer):
    episode = make_episode()
    case = shown_case()
    services.add_case(episode, case, actor=producer)

    record_consent(case, NOTHING, given_by="Bettine")

    (missing,) = [m for m in get_run_sheet(episode).missing if m.is_blocking]
    assert "took back" in missing.text
    with pytest.raises(NotReadyError, match="took back"):
        services.mark_out(episode, actor=producer)


def test_sheet_names_nobody_whose_name_was_taken_back(producer):
    episode = make_episode()
    case = shown_case()
    services.add_case(episode, case, actor=producer)
    record_consent(case, Consent(may_show_photos=True), given_by="Bettine")

    credits = [row.credit for row in get_run_sheet(episode).rows if row.segment.case]

    assert credits == ["Credit: nobody is named"]


def test_sheet_says_how_a_name_is_said(producer):
    episode = make_episode()
    case = shown_case()
    note_people(case.pk)
    change_person(case.parts.get(role=Role.OWNER).person, {"said_as": "bet-TEE-neh"})
    services.add_case(episode, case, actor=producer)

    credits = [row.credit for row in get_run_sheet(episode).rows if row.segment.case]

    assert credits == ["Credit: Bettine, said “bet-TEE-neh”"]


def test_producer_is_told_once_for_each_show(as_user, producer):
    out, coming = make_episode(38), make_episode(39)
    case = shown_case()
    services.add_case(out, case, actor=producer)
    services.mark_out(out, actor=producer)
    services.add_case(coming, case, actor=producer)

    take_back(case)

    told = {(w.use, w.episode_number, w.was_shown) for w in Withdrawal.objects.all()}
    assert told == {
        ("photos", 38, True),
        ("photos", 39, False),
        ("name", 38, True),
        ("name", 39, False),
    }
    second = case.appearances.get().starts_at_s
    assert set(Withdrawal.objects.filter(episode_number=38).values_list("shown_at_s")) == {
        (second,)
    }
    page = as_user(producer).get("/episodes").content.decode()
    assert "the photos may not be shown any more" in page
    assert "Shown before that: episode" in page
    sheet = as_user(producer).get("/episodes/39").content.decode()
    assert "I have seen it" in sheet


def test_withdrawal_told_twice_is_one_row(producer):
    case = shown_case()
    services.add_candidate(case, actor=producer)
    for _ in range(2):
        note_withdrawal(case.pk, key="consent:1", uses=["photos", "answer"])

    assert Withdrawal.objects.get().episode_number is None


def test_withdrawal_of_what_no_show_knows_tells_nobody():
    case = shown_case()

    take_back(case)

    assert not Withdrawal.objects.exists()


def test_allowing_more_or_the_same_tells_nobody(producer):
    case = shown_case()
    services.add_candidate(case, actor=producer)

    take_back(case, Consent(may_show_photos=True, may_publish_answer=True, **NAMED))

    assert not Withdrawal.objects.exists()


def test_guardian_who_no_longer_agrees_takes_everything_back(producer):
    young = {"may_show_photos": True, "is_under_16": True, **NAMED}
    case = make_case(consent=Consent(guardian_agreed=True, **young))
    services.add_candidate(case, actor=producer)

    take_back(case, Consent(**young))

    assert {w.use for w in Withdrawal.objects.all()} == {"photos", "name"}


def test_erasure_tells_what_had_been_shown(producer):
    episode = make_episode(38)
    case = shown_case()
    services.add_case(episode, case, actor=producer)
    services.mark_out(episode, actor=producer)

    erase_parts(case)
    start_job("forget-case", key="forget", payload={"case": case.pk})
    erase_person(case, by="the person")
    run_due_jobs()

    assert {w.use for w in Withdrawal.objects.all()} == {"photos", "name"}
    assert all(w.was_shown for w in Withdrawal.objects.all())


def test_seen_is_for_producers_and_stays_in_the_list(as_user, producer, reviewer):
    case = shown_case(credit_kind="anonymous")
    services.add_candidate(case, actor=producer)
    take_back(case)
    found = Withdrawal.objects.get()
    address = reverse("episodes:see_withdrawal", args=[found.pk])

    assert as_user(reviewer).post(address).status_code == 403
    as_user(producer).post(address)

    assert "I have seen it" not in as_user(producer).get("/episodes").content.decode()
    assert "Seen by Wren" in as_user(reviewer).get("/episodes/withdrawals").content.decode()
