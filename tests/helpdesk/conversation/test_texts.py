"""Recurring texts: placeholders, channels, saving side by side."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from helpdesk.accounts.models import User
from helpdesk.cases.models import Channel
from helpdesk.conversation.errors import StaleTextError
from helpdesk.conversation.models import SetText
from helpdesk.conversation.placeholders import (
    PAGE_WORDS,
    PLACEHOLDERS,
    Filling,
    fill,
    find_faults,
)
from helpdesk.conversation.previews import BY_CHANNEL, preview, without_marks
from helpdesk.conversation.selectors import list_filled
from helpdesk.conversation.services import drop_text, make_text, save_text
from helpdesk.core.errors import RefusedInputError
from tests.factories import make_case

LogIn = Callable[[User], Client]


def _text(**changes: str) -> SetText:
    values = {
        "title": "Dry it",
        "kind": "answer",
        "body": "Hello {first_name}, dry the {material}.",
    }
    return make_text(**(values | changes), actor=None)


def test_placeholders_are_filled_for_a_case(reviewer: User) -> None:
    """Name, facts, writer, desk; what is not known reads as a sentence all the same."""
    case = make_case(person_name="Bettine Halvorsen", title="Box")
    bare = make_case(person_name="", facts={}, title="Vase")
    body = "{first_name}|{case}|{title}|{machine}|{material}|{reviewer}|{desk}|{show}"

    filled = fill(body, Filling(case, reviewer))

    assert filled == (
        f"Bettine|{case.pk}|Box|Tern 220|PLA|Imke|Marrow Lane Makers’ Room|The Salvage Hour"
    )
    assert fill("{first_name}: {machine}, {material}", Filling(bare, reviewer)) == (
        "there: your printer, your material"
    )


def test_private_address_is_never_put_into_a_box(reviewer: User) -> None:
    """A box is saved and shown; the address is made when a letter goes and kept nowhere."""
    case = make_case()

    assert fill("See {private_link}.", Filling(case, reviewer)) == f"See {PAGE_WORDS}."
    assert case.links.count() == 0


def test_name_that_looks_like_a_placeholder_is_not_filled_again(reviewer: User) -> None:
    """What a person typed is never read as ours."""
    case = make_case(person_name="{private_link} {desk}")

    assert fill("Hello {first_name}", Filling(case, reviewer)) == ("Hello {private_link}")


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("Hello {name}", "{name} is no placeholder"),
        ("Hello {}", "{} is no placeholder"),
        ("Hello {First_Name}", "{First_Name} is no placeholder"),
        ("Hello {first_name", "A brace stands alone"),
        ("Hello first_name}", "A brace stands alone"),
        ("{{first_name}}", "A brace stands alone"),
    ],
)
def test_unknown_placeholder_is_refused_with_the_known_ones(body: str, words: str) -> None:
    """The refusal names what there is."""
    faults = " ".join(find_faults(body))

    assert words in faults
    assert "{first_name}" in faults


@given(st.text(alphabet="{}_abcfirst_name ", max_size=60))
def test_text_without_faults_can_always_be_filled(body: str) -> None:
    """Whatever is let through holds known placeholders only."""
    if find_faults(body):
        return
    rest = body
    for name in PLACEHOLDERS:
        rest = rest.replace(f"{{{name}}}", "")
    assert "{" not in rest
    assert "}" not in rest


def test_unknown_placeholder_is_not_kept(db: None) -> None:
    """The service refuses it, too."""
    with pytest.raises(RefusedInputError, match="first_name"):
        _text(body="Hello {nobody}")

    assert not SetText.objects.exists()


@pytest.mark.parametrize(
    ("typed", "plain"),
    [
        ("**Stop** and *look* at `M104`", "Stop and look at M104"),
        ("__Stop__ _now_", "Stop now"),
        ("# Heading\nwords", "Heading\nwords"),
        ("[the page](https://a.example/x)", "the page: https://a.example/x"),
        ("2 * 3 * 4 and snake_case_name", "2 * 3 * 4 and snake_case_name"),
        ("5*6", "5*6"),
    ],
)
def test_marks_go_where_no_channel_shows_them(typed: str, plain: str) -> None:
    """Emphasis, headings and links become words; sums and names stay."""
    assert without_marks(typed) == plain


def test_hostile_marks_are_read_fast() -> None:
    """No pattern looks back over a long text."""
    for text in ("*" * 4000, "_a" * 2000, "[" * 4000, "[a](http://" * 360, "`a" * 2000):
        without_marks(text)


def test_messages_keep_the_limit_of_their_channel() -> None:
    """A long text is cut into numbered messages, none longer than its channel takes."""
    text = "Please dry the spool for six hours at fifty degrees. " * 60

    for shown in preview(text):
        limit = shown.rule.limit
        assert limit is None or all(len(words) <= limit for words in shown.texts)
        assert (len(shown.texts) > 1) is (limit is not None)
    assert BY_CHANNEL[Channel.SOCIAL].limit == 500


def test_chat_keeps_marks_and_mail_has_html() -> None:
    """Each channel shows what it can."""
    shown = {each.rule.channel: each for each in preview("**Stop**\n\n- one\n- two")}

    assert "**Stop**" in shown[Channel.CHAT].texts[0]
    assert "**" not in shown[Channel.DIRECT].texts[0]
    assert [len(block.items) for block in shown[Channel.MAIL].blocks] == [0, 2]


def test_texts_that_suit_the_box_come_first(reviewer: User) -> None:
    """Questions for asking, parts of answers for answering, notes to a chat for noting."""
    for kind in ("question", "answer", "closing", "chat"):
        _text(title=kind, kind=kind)
    case = make_case()

    def first(box: str) -> str:
        return list_filled(case, reviewer, box=box)[0].text.kind

    assert [first(box) for box in ("ask", "answer", "note", "junk")] == [
        "question",
        "answer",
        "chat",
        "question",
    ]


def test_text_saved_by_two_is_shown_in_both_versions(reviewer: User) -> None:
    """The one who comes second sees what the first wrote."""
    text = _text()
    values = {"title": "Dry it", "kind": "answer"}
    save_text(text.pk, **values, body="First.", version=1, actor=reviewer)

    with pytest.raises(StaleTextError) as caught:
        save_text(text.pk, **values, body="Second.", version=1, actor=reviewer)

    assert caught.value.current.body == "First."
    with pytest.raises(StaleTextError):
        drop_text(text.pk, version=1)
    drop_text(text.pk, version=2)
    assert not SetText.objects.exists()


@pytest.fixture
def runner(as_user: LogIn, desk_admin: User) -> Client:
    """Return a client of somebody who runs the desk."""
    return as_user(desk_admin)


def test_text_is_written_changed_and_deleted_on_its_pages(runner: Client) -> None:
    """The whole way through the forms."""
    values = {"title": "Dry it", "kind": "answer", "body": "Dry the {material}.", "version": 0}
    runner.post(reverse("conversation:new_text"), values)
    text = SetText.objects.get()
    runner.post(text.get_absolute_url(), {**values, "body": "Dry it first.", "version": 1})
    text.refresh_from_db()
    listed = runner.get(reverse("conversation:texts")).content.decode()
    runner.post(reverse("conversation:drop_text", args=[text.pk]), {"version": 2})

    assert (text.body, text.version) == ("Dry it first.", 2)
    assert "Dry it first." in listed
    assert not SetText.objects.exists()


def test_refused_text_keeps_what_was_typed(runner: Client) -> None:
    """A wrong placeholder, a taken title and an empty text come back with their reasons."""
    _text(title="Taken")
    values = {"title": "taken", "kind": "answer", "body": "Hello {nobody}", "version": 0}

    page = runner.post(reverse("conversation:new_text"), values)

    content = page.content.decode()
    assert page.status_code == 422
    assert "{nobody} is no placeholder" in content
    assert "{first_name}" in content
    assert "Another text has this title" in content
    assert "Hello {nobody}</textarea>" in content


def test_stale_form_shows_both_versions_and_saves_on_the_second_press(
    runner: Client, reviewer: User
) -> None:
    """Nothing typed is lost."""
    text = _text()
    save_text(text.pk, title="Dry it", kind="answer", body="Theirs.", version=1, actor=reviewer)
    values = {"title": "Dry it", "kind": "answer", "body": "Mine.", "version": 1}

    page = runner.post(text.get_absolute_url(), values)
    shown = page.content.decode()
    runner.post(text.get_absolute_url(), {**values, "version": 2})

    assert page.status_code == 409
    assert "Theirs.</textarea>" in shown
    assert "Mine.</textarea>" in shown
    text.refresh_from_db()
    assert text.body == "Mine."


def test_preview_shows_every_channel_with_its_count(runner: Client) -> None:
    """Filled for an invented case, while it is written and without script."""
    part = runner.post(
        reverse("conversation:preview_text"), {"body": "Hello {first_name} \x00**x**"}
    )
    page = runner.post(
        reverse("conversation:new_text"), {"body": "Hello {first_name}", "preview": "yes"}
    )

    content = part.content.decode()
    assert "Hello Bettine" in content
    assert "of 500 a message" in content
    assert page.status_code == 200
    assert "Hello Bettine" in page.content.decode()


def test_texts_are_copied_without_script(reviewer: User, as_user: LogIn) -> None:
    """The page holds each text filled, and one of them in every channel."""
    text = _text()
    case = make_case()
    client = as_user(reviewer)
    address = reverse("conversation:copy_texts", args=[case.pk])

    page = client.get(address).content.decode()
    chosen = client.get(address, {"text": text.pk}).content.decode()

    assert "Hello Bettine, dry the PLA.</textarea>" in page
    assert "of 500 a message" in chosen


def test_words_in_a_text_are_escaped_where_they_are_chosen(reviewer: User, as_user: LogIn) -> None:
    """Neither a text nor a name of a person becomes part of the page."""
    _text(body='Hello {first_name} "quoted" <b>')
    case = make_case(person_name='<img src=x onerror="1">')

    part = as_user(reviewer).get(
        reverse("conversation:copy_texts", args=[case.pk]), headers={"HX-Request": "true"}
    )

    content = part.content.decode()
    assert "<img" not in content
    assert "&quot;quoted&quot; &lt;b&gt;" in content
