"""The public library: only what is published and still agreed to."""

from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.answers.errors import NotPublishableError
from helpdesk.answers.library import mark_words
from helpdesk.answers.models import Answer
from helpdesk.answers.publishing import (
    Publication,
    PublishedPhoto,
    find_names,
    publish_answer,
    suggest_body,
)
from helpdesk.answers.services import DraftText, draft_answer, send_answer
from helpdesk.cases.models import Case, Channel
from helpdesk.cases.services import (
    Consent,
    erase_person,
    record_appearance,
    record_consent,
    record_outcome,
)
from helpdesk.core import clock
from helpdesk.photos.models import Photo, PhotoState, photo_storage
from tests.factories import make_case
from tests.helpdesk.answers.conftest import SetView

LIBRARY = "answers:library"


@pytest.fixture
def agreed(db: None, set_view: SetView) -> Case:
    """Open a case whose person agrees to everything."""
    return make_case(consent=Consent(may_publish_answer=True, may_show_photos=True))


def _send(case: Case, reviewer: User) -> Answer:
    return send_answer(draft_answer(case, reviewer).pk, 1, reviewer, Channel.MAIL)


def _publish(case: Case, reviewer: User, **changes: object) -> Answer:
    values = {
        "title": "Why do the corners lift?",
        "body": "Why it happens: plastic shrinks.\n\nDo this first: close the window.",
        "has_looked_for_names": True,
        "has_looked_at_photos": True,
    } | changes
    return publish_answer(_send(case, reviewer).pk, Publication(**values), reviewer)  # type: ignore[arg-type]


def _add_photo(case: Case) -> Photo:
    name = photo_storage().save("web.jpg", ContentFile(b"\xff\xd8\xff\xd9"))
    return Photo.objects.create(
        case=case,
        label="print.jpg",
        format="JPEG",
        size_bytes=4,
        sha256="0" * 64,
        state=PhotoState.READY,
        width=640,
        height=480,
        web=name,
        thumb=name,
        received_at=clock.now(),
    )


def _page(**query: str) -> str:
    return Client().get(reverse(LIBRARY), query).content.decode()


def test_published_answer_is_shown_to_anybody(agreed: Case, reviewer: User) -> None:
    """In the list and on its own page, with cautions in the desk's words and no name."""
    answer = _publish(agreed, reviewer)
    record_outcome(agreed, result="worked")
    record_appearance(
        agreed,
        episode_number=36,
        episode_title="Bowls",
        starts_at_s=435,
        on_date=clock.today(),
    )

    page = Client().get(reverse("answers:published", args=[answer.pk]))

    shown = page.content.decode()
    assert page.status_code == 200
    assert "<strong>Do this first.</strong> Close the window." in shown
    assert "The plate is hot enough to burn." in shown
    assert "Episode 36 at" in shown
    assert "7:15" in shown
    assert "Bettine" not in shown
    assert "Why do the corners lift?" in _page()
    assert "Worked" in _page()


def test_reworded_caution_is_public_in_the_desks_own_words(
    agreed: Case, reviewer: User, set_view: SetView
) -> None:
    """A caution that speaks to a person by name does not carry the name into the library."""
    set_view(danger=True)
    text = DraftText(body="Hello.", wordings={"danger:hot-plug": "Bettine, pull the plug."})
    sent = send_answer(draft_answer(agreed, reviewer).pk, 1, reviewer, Channel.MAIL, text=text)
    publish_answer(sent.pk, Publication(title="T", body="B", has_looked_for_names=True), reviewer)

    shown = Client().get(reverse("answers:published", args=[sent.pk])).content.decode()

    assert "Please switch off at the wall and unplug the printer now." in shown
    assert "Bettine" not in shown


@pytest.mark.parametrize(
    "consent",
    [
        Consent(),
        Consent(may_publish_answer=True, is_under_16=True),
    ],
    ids=["withdrawn", "young without guardian"],
)
def test_withdrawn_consent_takes_effect_at_once(
    agreed: Case, reviewer: User, consent: Consent
) -> None:
    """List, page and photo are gone with the consent, without anybody's doing."""
    photo = _add_photo(agreed)
    answer = _publish(agreed, reviewer, photos=[PublishedPhoto(photo.pk, "A box")])
    addresses = [
        reverse("answers:published", args=[answer.pk]),
        reverse("answers:photo", args=[answer.pk, photo.pk, "web"]),
    ]
    before = [Client().get(address).status_code for address in addresses]

    record_consent(agreed, consent, given_by="the person")

    assert before == [200, 200]
    assert [Client().get(address).status_code for address in addresses] == [404, 404]
    assert "corners lift" not in _page()


def test_photos_follow_their_own_consent(agreed: Case, reviewer: User) -> None:
    """The answer stays when only the photos are withdrawn."""
    photo = _add_photo(agreed)
    answer = _publish(agreed, reviewer, photos=[PublishedPhoto(photo.pk, "A grey box")])
    before = _page()

    record_consent(agreed, Consent(may_publish_answer=True), given_by="the person")

    address = reverse("answers:photo", args=[answer.pk, photo.pk, "web"])
    assert 'alt="A grey box"' in before
    assert "corners lift" in _page()
    assert address not in _page()
    assert Client().get(address).status_code == 404


def test_photo_not_chosen_is_not_public(agreed: Case, reviewer: User) -> None:
    """Knowing a number opens no other photo of the case, no original, and no foreign one."""
    shown, hidden = _add_photo(agreed), _add_photo(agreed)
    answer = _publish(agreed, reviewer, photos=[PublishedPhoto(shown.pk, "A box")])

    def status(photo: Photo, size: str) -> int:
        return Client().get(reverse("answers:photo", args=[answer.pk, photo.pk, size])).status_code

    assert status(shown, "web") == 200
    assert status(shown, "original") == 404
    assert status(hidden, "web") == 404


def test_erased_case_leaves_the_library(agreed: Case, reviewer: User) -> None:
    """Erasure reaches the public page."""
    answer = _publish(agreed, reviewer)

    erase_person(agreed, by="the person")

    assert Client().get(reverse("answers:published", args=[answer.pk])).status_code == 404


def test_unsent_and_unpublished_answers_are_not_public(agreed: Case, reviewer: User) -> None:
    """An answer is shown because somebody published it, not because it exists."""
    answer = _send(agreed, reviewer)

    assert Client().get(reverse("answers:published", args=[answer.pk])).status_code == 404
    assert "No answer has been published yet." in _page()


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"title": " "}, "needs a title"),
        ({"has_looked_for_names": False}, "looked for names"),
        ({"body": "Ask Bettine."}, "Bettine"),
        ({"title": "HALVORSEN’s box"}, "HALVORSEN"),
        ({"body": "Write to me@there.example"}, "me@there.example"),
        ({"photos": [PublishedPhoto(10**9, "A box")]}, "does not belong"),
        ({"photos": [PublishedPhoto(1, " ")]}, "description"),
        ({"photos": [PublishedPhoto(1, "x")], "has_looked_at_photos": False}, "each photo"),
    ],
)
def test_publishing_is_refused_with_the_reason(
    agreed: Case, reviewer: User, changes: dict[str, object], reason: str
) -> None:
    """Names, missing looks and photos without words stand in the way, each in words."""
    with pytest.raises(NotPublishableError, match=reason):
        _publish(agreed, reviewer, **changes)

    assert not Answer.objects.filter(published_at__isnull=False).exists()


def test_publishing_without_consent_is_refused(case: Case, reviewer: User) -> None:
    """Nobody's answer is shown without their word."""
    with pytest.raises(NotPublishableError, match="not agreed"):
        _publish(case, reviewer)


def test_ordinary_words_are_no_names() -> None:
    """A person called May does not make "it may help" a name; "May" at its place is one."""
    case = Case(person_name="May Rose", handle="")

    assert find_names("It may help, and the plate rose by 5 °C.", case) == []
    assert find_names("Dear May, close the window.", case) == ["May"]


def test_words_found_may_be_said_to_be_no_names(agreed: Case, reviewer: User) -> None:
    """A reviewer who looked has the last word."""
    answer = _publish(agreed, reviewer, body="Bettine is a town.", words_are_no_names=True)

    assert answer.published_at is not None


def test_suggested_text_has_no_greeting(agreed: Case, reviewer: User) -> None:
    """The start of the public text leaves out whom the letter spoke to."""
    body = suggest_body(_send(agreed, reviewer))

    assert body.startswith("What we see:")
    assert "Bettine" not in body


def test_library_is_searched_by_all_words_and_filtered(agreed: Case, reviewer: User) -> None:
    """Every word has to occur; material and outcome narrow further; matches are marked."""
    _publish(agreed, reviewer)
    record_outcome(agreed, result="worked")

    assert "<mark>corners</mark>" in _page(words="CORNERS window")
    assert "No answer fits these words." in _page(words="corners resin")
    assert "corners lift" in _page(material="PLA", outcome="worked")
    assert "No answer fits these words." in _page(outcome="failed")


def test_library_counts_only_the_latest_outcome(agreed: Case, reviewer: User) -> None:
    """A remedy that failed first and worked later has worked."""
    _publish(agreed, reviewer)
    record_outcome(agreed, result="failed")
    record_outcome(agreed, result="worked")

    assert "corners lift" in _page(outcome="worked")
    assert "No answer fits these words." in _page(outcome="failed")


def test_matched_words_are_escaped_and_marked_whatever_their_case() -> None:
    """A word with signs of the pattern language is a word."""
    bits = mark_words("A (rough) Rough edge", ["rough", "("])

    assert [bit.text for bit in bits if bit.is_match] == ["(", "rough", "Rough"]
    assert "".join(bit.text for bit in bits) == "A (rough) Rough edge"


def test_library_pages_reach_every_answer_once(reviewer: User, set_view: SetView) -> None:
    """Following "Older answers" shows all, in as many queries on each page."""
    for number in range(14):
        case = make_case(consent=Consent(may_publish_answer=True))
        _publish(case, reviewer, title=f"Question number {number:02}")

    first = Client().get(reverse(LIBRARY))
    address = first.content.decode().split('<a class="button" href="?after=')[1].split('"')[0]
    second = Client().get(reverse(LIBRARY) + "?after=" + address).content.decode()

    both = first.content.decode() + second
    assert all(both.count(f"Question number {n:02}") == 1 for n in range(14))


def test_library_lists_answers_in_few_queries(
    reviewer: User, set_view: SetView, django_assert_max_num_queries: Any
) -> None:
    """The number of queries does not grow with the number of answers."""
    for _ in range(8):
        _publish(make_case(consent=Consent(may_publish_answer=True)), reviewer)

    with django_assert_max_num_queries(6):
        Client().get(reverse(LIBRARY))


def test_visitors_page_may_be_cached_for_a_moment_and_a_persons_never(
    agreed: Case, reviewer: User, as_user: Any
) -> None:
    """A shared cache holds nothing that was made for one person, and asks again soon."""
    _publish(agreed, reviewer)

    visitor = Client().get(reverse(LIBRARY))
    staff = as_user(reviewer).get(reverse(LIBRARY))

    assert visitor["Cache-Control"] == "public, max-age=60"
    assert not visitor.cookies
    assert "X-Robots-Tag" not in visitor
    assert "no-store" in staff["Cache-Control"]
    assert "Cookie" in visitor["Vary"]
    assert "Log out" in staff.content.decode()
