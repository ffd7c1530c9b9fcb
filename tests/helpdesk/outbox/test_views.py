"""The outbox page: for whoever runs the desk, without private addresses."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.core import clock
from helpdesk.core.models import Job, JobState
from helpdesk.outbox.models import OutgoingMail
from helpdesk.outbox.services import deliver_mail, queue_mail
from helpdesk.outbox.templatetags.outbox import JOB_WORDS

Login = Callable[[User], Client]


@pytest.fixture
def client(as_user: Login, desk_admin: User) -> Client:
    """Return a client of somebody who runs the desk."""
    return as_user(desk_admin)


def _write(case: Case, key: str = "k") -> OutgoingMail:
    mail = queue_mail(
        case, kind="answer", subject=f"Letter {key}", text="Page: {private_link}", dedupe_key=key
    )
    assert mail
    return mail


def _text(client: Client) -> str:
    return client.get(reverse("outbox:outbox")).content.decode()


def test_outbox_is_closed_to_reviewers_and_visitors(
    case: Case, as_user: Login, reviewer: User
) -> None:
    """Letters of everybody are for whoever runs the desk."""
    mail = _write(case)
    job = Job.objects.get(key=f"send-mail:{mail.pk}")
    addresses = [
        reverse("outbox:outbox"),
        reverse("outbox:letter", args=[mail.pk]),
        reverse("outbox:retry", args=[job.pk]),
    ]

    assert [as_user(reviewer).get(a).status_code for a in addresses[:2]] == [403, 403]
    assert as_user(reviewer).post(addresses[2]).status_code == 403
    assert [Client().get(a).status_code for a in addresses[:2]] == [302, 302]


def test_outbox_shows_what_became_of_each_letter(case: Case, client: Client) -> None:
    """Sent, waiting, failing and given up, each in a word and with the reason."""
    sent, _, failing, given_up = (_write(case, key) for key in "abcd")
    deliver_mail(sent.pk)
    Job.objects.filter(key=f"send-mail:{failing.pk}").update(last_error="450 busy")
    Job.objects.filter(key=f"send-mail:{given_up.pk}").update(
        state=JobState.FAILED, last_error="550 gone", attempts=8
    )

    page = _text(client)

    rows = {key: page.split(f">Letter {key}</a>")[1].split("</tr>")[0] for key in "abcd"}
    assert "sent" in rows["a"]
    assert "waiting" in rows["b"]
    assert "failing" in rows["c"]
    assert "450 busy" in rows["c"]
    assert "given up" in rows["d"]
    assert "550 gone" in rows["d"]
    assert "was given up after 8 attempts" in page
    assert "bettine@" not in page
    assert "b…@tarnstreet.example" in page


def test_letter_is_shown_without_its_private_address(case: Case, client: Client) -> None:
    """Whoever runs the desk can read a letter and cannot open the person's page with it."""
    mail = _write(case)

    page = client.get(reverse("outbox:letter", args=[mail.pk])).content.decode()

    assert "[the person’s private page]" in page
    assert "bettine@" not in page
    assert not case.events.filter(kind="revealed").exists()


def test_showing_an_address_is_noted(case: Case, client: Client, desk_admin: User) -> None:
    """Contact data is shown on request, and the case remembers who asked."""
    mail = _write(case)

    page = client.post(reverse("outbox:letter", args=[mail.pk])).content.decode()

    assert "bettine@tarnstreet.example" in page
    assert case.events.get(kind="revealed").actor == desk_admin


def test_given_up_work_is_tried_again_by_a_post(
    case: Case, client: Client, django_capture_on_commit_callbacks: Callable[..., object]
) -> None:
    """Trying again gives a letter another series of attempts, and it goes out."""
    mail = _write(case)
    job = Job.objects.get(key=f"send-mail:{mail.pk}")
    Job.objects.filter(pk=job.pk).update(state=JobState.FAILED, attempts=8, last_error="x")
    address = reverse("outbox:retry", args=[job.pk])

    looked = client.get(address).status_code
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[attr-defined]
        client.post(address)

    mail.refresh_from_db()
    assert looked == 405
    assert mail.sent_at is not None


def test_outbox_pages_go_through_all_letters(case: Case, client: Client) -> None:
    """Older letters follow on the next page, none twice."""
    OutgoingMail.objects.bulk_create(
        OutgoingMail(
            case=case,
            kind="answer",
            dedupe_key=f"bulk{n}",
            to=case.email,
            subject=f"Bulk {n:02}.",
            text="x",
            message_id=f"<{n}@marrowlane.example>",
            created_at=clock.now(),
        )
        for n in range(35)
    )

    first = _text(client)
    place = first.split('href="?after=')[1].split('"')[0]
    second = client.get(reverse("outbox:outbox") + f"?after={place}").content.decode()

    both = first + second
    assert all(both.count(f">Bulk {n:02}.<") == 1 for n in range(35))


def test_unknown_letter_is_not_found(client: Client) -> None:
    """A number nobody has given is a plain 404."""
    assert client.get(reverse("outbox:letter", args=[999_999])).status_code == 404


def test_every_kind_of_work_has_words(client: Client) -> None:
    """Failed work is named in words, and no kind of work of the desk is left without them."""
    apps = Path(settings.BASE_DIR, "helpdesk")
    code = "".join(path.read_text(encoding="utf-8") for path in apps.glob("*/tasks.py"))
    assert set(re.findall(r'@job_handler\("(.+)"\)', code)) <= set(JOB_WORDS)
    Job.objects.create(
        key="a",
        kind="index-case",
        state=JobState.FAILED,
        run_after=clock.now(),
        created_at=clock.now(),
    )

    assert "Making a case findable" in _text(client)


def test_many_failures_leave_the_letters_in_reach(case: Case, client: Client) -> None:
    """Three failures are shown; the others wait behind one press."""
    for number in range(5):
        Job.objects.create(
            key=f"k{number}",
            kind="index-case",
            state=JobState.FAILED,
            run_after=clock.now(),
            created_at=clock.now(),
        )

    text = _text(client)

    shown, _, folded = text.partition("<summary>2 more</summary>")
    assert (shown.count("Making a case findable"), folded.count("Making a case findable")) == (3, 2)
