"""The answer panel as reviewers use it, with and without script."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.answers.models import Answer
from helpdesk.answers.services import DraftText, draft_answer, save_draft, send_answer
from helpdesk.cases.models import Case, CaseState, Channel
from helpdesk.cases.services import Consent
from helpdesk.outbox.models import OutgoingMail
from tests.factories import make_case
from tests.helpdesk.answers.conftest import SetView

Login = Callable[[User], Client]
HTMX = {"HX-Request": "true"}
ADDRESSES = ("draft", "save", "preview", "send", "sent_elsewhere", "publish", "unpublish")


@pytest.fixture
def client(as_user: Login, reviewer: User) -> Client:
    """Return a client of a logged-in reviewer."""
    return as_user(reviewer)


def _at(name: str, case: Case) -> str:
    return reverse(f"answers:{name}", args=[case.pk])


def _posted(answer: Answer, **changes: str) -> dict[str, str]:
    return {
        "answer": str(answer.pk),
        "version": str(answer.version),
        "body": answer.body,
        "follow_up_days": "14",
        "length_limit": "500",
    } | changes


@pytest.mark.parametrize("name", ADDRESSES)
def test_changing_an_answer_needs_a_reviewer(
    name: str, case: Case, as_user: Login, producer: User
) -> None:
    """A producer may look at an answer and change nothing; a visitor is sent to log in."""
    address = _at(name, case)

    assert as_user(producer).post(address).status_code == 403
    assert Client().post(address).status_code == 302
    assert as_user(producer).get(_at("panel", case)).status_code == 200


@pytest.mark.parametrize("name", ADDRESSES)
def test_looking_changes_nothing(name: str, case: Case, client: Client) -> None:
    """Every change is a POST."""
    assert client.get(_at(name, case)).status_code == 405


def test_panel_offers_a_draft_and_then_shows_it(case: Case, client: Client) -> None:
    """One press writes the draft; htmx gets the panel alone."""
    before = client.get(_at("panel", case)).content.decode()

    response = client.post(_at("draft", case), headers=HTMX)

    page = response.content.decode()
    assert "Write a draft" in before
    assert "<html" in before
    assert "<html" not in page
    assert 'id="answer-panel"' in page
    assert "Hello Bettine," in page
    assert "No verdict yet" in page
    assert response["HX-Trigger"] == "case-changed"


def test_saving_without_script_returns_to_the_case(
    case: Case, client: Client, reviewer: User
) -> None:
    """A plain form works and lands beside the answer."""
    answer = draft_answer(case, reviewer)

    response = client.post(_at("save", case), _posted(answer, body="Hello, plain."))

    assert response.status_code == 302
    assert response["Location"] == f"{case.get_absolute_url()}#answer"
    assert Answer.objects.get(pk=answer.pk).body == "Hello, plain."


def test_preview_shows_typed_words_and_saves_nothing(
    case: Case, client: Client, reviewer: User, set_view: SetView
) -> None:
    """The preview has the danger on top, the typed words, and escapes what is typed."""
    set_view(danger=True)
    answer = draft_answer(case, reviewer)

    typed = _posted(answer, body="Do this first: mind <b>this</b>.")
    fragment = client.post(_at("preview", case), typed, headers=HTMX).content.decode()
    page = client.post(_at("preview", case), typed).content.decode()

    assert "<html" not in fragment
    assert "<html" in page
    for shown in (fragment, page):
        assert "<strong>Do this first.</strong> Mind &lt;b&gt;this&lt;/b&gt;." in shown
        assert shown.index("Before anything else") < shown.index("<strong>Do this first.")
        assert "private page" in shown
    assert Answer.objects.get(pk=answer.pk).body == answer.body


def test_conflict_shows_both_texts_and_loses_neither(
    case: Case, client: Client, reviewer: User, colleague: User
) -> None:
    """Status 409, their text beside mine, and saving again replaces theirs knowingly."""
    answer = draft_answer(case, reviewer)
    save_draft(answer.pk, DraftText(body="Words of Teodor."), 1, colleague)

    typed = _posted(answer, body="Words of Imke.", version="1")
    response = client.post(_at("save", case), typed, headers=HTMX)
    again = client.post(_at("save", case), typed | {"version": "2"}, headers=HTMX)

    page = response.content.decode()
    assert response.status_code == 409
    assert "Words of Teodor." in page
    assert "Words of Imke." in page
    assert "Teodor saved this answer while you were writing" in page
    assert 'name="version" value="2"' in page
    assert again.status_code == 200
    assert Answer.objects.get(pk=answer.pk).body == "Words of Imke."


def test_conflict_without_script_is_a_whole_page(
    case: Case, client: Client, reviewer: User, colleague: User
) -> None:
    """The same, for a browser without script."""
    answer = draft_answer(case, reviewer)
    save_draft(answer.pk, DraftText(body="Words of Teodor."), 1, colleague)

    response = client.post(_at("send", case), _posted(answer, body="Mine.", version="1"))

    page = response.content.decode()
    assert response.status_code == 409
    assert "<html" in page
    assert "Mine." in page
    assert "Words of Teodor." in page


def test_field_out_of_range_is_refused_and_keeps_the_text(
    case: Case, client: Client, reviewer: User
) -> None:
    """A limit nobody can use is said at its field; nothing typed is lost."""
    answer = draft_answer(case, reviewer)

    response = client.post(
        _at("save", case), _posted(answer, body="Typed.", length_limit="5"), headers=HTMX
    )

    page = response.content.decode()
    assert response.status_code == 422
    assert 'aria-invalid="true"' in page
    assert "Typed." in page
    assert Answer.objects.get(pk=answer.pk).version == 1


def test_emptied_caution_comes_back_with_a_word_about_it(
    case: Case, client: Client, reviewer: User, set_view: SetView
) -> None:
    """The panel names the caution that was put back."""
    set_view(danger=True)
    answer = draft_answer(case, reviewer)

    response = client.post(
        _at("send", case), _posted(answer, **{"wording_danger-hot-plug": ""}), headers=HTMX
    )

    page = response.content.decode()
    assert response.status_code == 409
    assert "Not sent yet: please read this caution first" in page
    assert "unplug the printer now" in page
    assert not OutgoingMail.objects.filter(kind="answer").exists()


def test_sending_twice_sends_once_and_shows_what_was_sent(
    case: Case, client: Client, reviewer: User
) -> None:
    """The second press of the button finds the answer sent."""
    answer = draft_answer(case, reviewer)
    typed = _posted(answer)

    first = client.post(_at("send", case), typed, headers=HTMX)
    second = client.post(_at("send", case), typed, headers=HTMX)

    assert (first.status_code, second.status_code) == (200, 200)
    assert "Sent by e-mail" in second.content.decode()
    assert "nothing was sent twice" in second.content.decode()
    assert OutgoingMail.objects.filter(kind="answer").count() == 1


def test_words_of_whoever_came_second_are_shown(
    case: Case, client: Client, reviewer: User, colleague: User
) -> None:
    """A colleague was faster: my different text was not sent, and is there to copy."""
    answer = draft_answer(case, reviewer)
    send_answer(answer.pk, 1, colleague, Channel.MAIL)

    response = client.post(_at("send", case), _posted(answer, body="My other words."), headers=HTMX)

    assert response.status_code == 409
    assert "My other words." in response.content.decode()


def test_answer_is_copied_in_pieces_and_noted_as_sent(reviewer: User, client: Client) -> None:
    """For a chat the draft is cut to the limit; the reviewer's word closes it."""
    case = make_case(email="", reply_channel=Channel.CHAT, handle="bettine-prints")
    answer = draft_answer(case, reviewer)

    pieces = client.post(
        _at("save", case), _posted(answer, length_limit="120", then="copy"), headers=HTMX
    ).content.decode()
    plain = client.post(
        _at("save", case), _posted(answer, length_limit="120", then="copy", version="2")
    )
    done = client.post(
        _at("sent_elsewhere", case),
        {"answer": answer.pk, "version": 3, "via": "chat"},
        headers=HTMX,
    )

    case.refresh_from_db()
    assert "(1/" in pieces
    assert 'value="chat" selected' in pieces
    assert plain["Location"].endswith("?copy=1#answer-pieces")
    assert "Sent by chat server" in done.content.decode()
    assert case.state == CaseState.ANSWERED


def test_answer_of_another_case_is_not_found(case: Case, client: Client, reviewer: User) -> None:
    """An answer's number from elsewhere opens nothing here."""
    foreign = draft_answer(make_case(), reviewer)

    assert client.post(_at("save", case), _posted(foreign)).status_code == 404


def test_publishing_asks_for_a_look_and_says_why_not(
    client: Client, reviewer: User, set_view: SetView
) -> None:
    """Without the word that somebody looked, and with a name in it, nothing is shown."""
    case = make_case(consent=Consent(may_publish_answer=True))
    answer = send_answer(draft_answer(case, reviewer).pk, 1, reviewer, Channel.MAIL)
    form = {"answer": answer.pk, "title": "Why do corners lift?", "body": "Close the window."}

    unlooked = client.post(_at("publish", case), form, headers=HTMX)
    named = client.post(
        _at("publish", case),
        form | {"body": "Bettine, close the window.", "has_looked_for_names": "on"},
        headers=HTMX,
    )
    done = client.post(_at("publish", case), form | {"has_looked_for_names": "on"}, headers=HTMX)

    assert (unlooked.status_code, named.status_code, done.status_code) == (422, 422, 200)
    assert "looked for names" in unlooked.content.decode()
    assert "may be a name or an address: Bettine" in named.content.decode()
    assert "Bettine, close the window." in named.content.decode()
    assert Answer.objects.get(pk=answer.pk).published_title == "Why do corners lift?"

    client.post(_at("unpublish", case), {"answer": answer.pk}, headers=HTMX)

    assert Answer.objects.get(pk=answer.pk).published_at is None


def test_unknown_case_is_not_found(client: Client, db: None) -> None:
    """A number nobody has given is a plain 404."""
    assert client.get(reverse("answers:panel", args=[999_999])).status_code == 404
