"""The pages: what is typed is kept, refused with a sentence, or shown again."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.answers.services import draft_answer
from helpdesk.core import clock
from helpdesk.outbox.models import OutgoingMail
from helpdesk.supply.models import (
    NothingAdverse,
    Remark,
    ReplyRequest,
    Statement,
    Subject,
    SubjectName,
)
from helpdesk.supply.remarks import NewRemark, add_remark
from helpdesk.supply.selectors import list_blocks, list_subjects_of
from helpdesk.supply.statements import write_statement
from tests.helpdesk.supply.makers import NEUTRAL, add_photo, confirm, make_case_of, make_maker

pytestmark = pytest.mark.django_db
LogIn = Callable[[User], Client]


@pytest.fixture
def client(reviewer: User, as_user: LogIn) -> Client:
    """Log a reviewer in."""
    return as_user(reviewer)


def test_facts_of_a_report_make_maker_product_and_batch(reviewer: User) -> None:
    """A second report of the batch, otherwise spelt, names the same one."""
    first = make_case_of("Ostler & Pike", batch="OP-77")
    second = make_case_of("OSTLER and PIKE", batch="op 77", email="b@quay.example")

    (batch,) = list_subjects_of(first)

    assert batch.full_name == "Ostler & Pike PLA, batch OP-77"
    assert list_subjects_of(second) == [batch]
    assert Subject.objects.count() == 3


def test_another_name_names_the_same_maker(reviewer: User) -> None:
    maker = make_maker(reviewer, other_names=["Fenn Moor Polymers"])

    (product,) = list_subjects_of(make_case_of("fenn moor polymers"))

    assert product.parent == maker


def test_a_subject_is_written_down_and_changed(client: Client) -> None:
    typed = {"kind": "maker", "name": "Tolvane", "other_names": "Tol\n\nTOL\nTolvane Works"}

    client.post(reverse("supply:new_subject"), typed)
    maker = Subject.objects.get(name="Tolvane")
    client.post(
        reverse("supply:edit_subject", args=[maker.pk]),
        {**typed, "contact_email": "care@tolvane.example"},
    )

    maker.refresh_from_db()
    assert maker.contact_email == "care@tolvane.example"
    assert sorted(SubjectName.objects.values_list("name", flat=True)) == ["TOL", "Tolvane Works"]
    assert maker.entries.count() == 2


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"kind": "maker", "name": ""}, "It needs a name."),
        ({"kind": "maker", "name": "&%"}, "at least one letter or figure"),
        ({"kind": "maker", "name": "fennmoor"}, "written down already"),
        ({"kind": "batch", "name": "7"}, "product or the maker this batch is of"),
        ({"kind": "product", "name": "PLA"}, "what the product is"),
        ({"kind": "planet", "name": "Mars"}, "planet"),
        ({"kind": "maker", "name": "x" * 81}, "80 characters"),
        ({"kind": "maker", "name": "Tol", "other_names": "y" * 81}, "80 characters"),
        ({"kind": "maker", "name": "Tol", "contact_email": "nobody"}, "e-mail|email"),
        ({"kind": "maker", "name": "Tol", "parent": "999999"}, "valid choice"),
    ],
)
def test_a_bad_subject_is_refused_with_a_sentence(
    client: Client, reviewer: User, typed: dict[str, str], said: str
) -> None:
    """What was typed stands in the form again."""
    make_maker(reviewer)

    response = client.post(reverse("supply:new_subject"), typed)

    assert response.status_code == 422
    page = response.content.decode()
    assert any(words in page for words in said.split("|"))
    assert Subject.objects.count() == 1


def test_a_maker_stands_below_nothing(client: Client, reviewer: User) -> None:
    maker = make_maker(reviewer)
    typed = {"kind": "seller", "name": "Quay Shop", "parent": maker.pk}

    response = client.post(reverse("supply:new_subject"), typed)

    assert (response.status_code, Subject.objects.count()) == (422, 1)


def test_a_case_is_linked_and_unlinked_by_hand(client: Client, reviewer: User) -> None:
    maker, case = make_maker(reviewer, name="Tolvane"), make_case_of("")

    unknown = client.post(reverse("supply:link", args=[maker.pk]), {"case": "999999"})
    client.post(reverse("supply:link", args=[maker.pk]), {"case": case.pk})
    linked = list_subjects_of(case)
    client.post(reverse("supply:unlink", args=[maker.pk, case.pk]))

    assert unknown.status_code == 422
    assert "There is no case 999999." in unknown.content.decode()
    assert (linked, list_subjects_of(case)) == ([maker], [])
    assert case.events.filter(kind="supply").count() == 2


def test_a_statement_goes_its_whole_way(
    client: Client, producer: User, as_user: LogIn, reviewer: User
) -> None:
    """Written, reworded, shown, asked about and replied to through its pages."""
    case = make_case_of()
    confirm(case, reviewer)
    photo = add_photo(case)
    (subject,) = list_subjects_of(case)
    loaded = "This spool, printed at 210 °C, is garbage."

    client.post(
        reverse("supply:new_statement", args=[case.pk]), {"subject": subject.pk, "text": loaded}
    )
    statement = Statement.objects.get()
    page = client.get(statement.get_absolute_url()).content.decode()
    assert "<mark>garbage</mark>" in page
    assert "Let it stand" not in page
    assert "Let it stand" in as_user(producer).get(statement.get_absolute_url()).content.decode()
    client.post(
        reverse("supply:change_statement", args=[statement.pk]), {"text": NEUTRAL, "version": 1}
    )
    client.post(
        reverse("supply:add_picture", args=[statement.pk]),
        {"photo": photo.pk, "shows": "The strand in the gauge"},
    )
    client.post(
        reverse("supply:ask_reply", args=[statement.pk]),
        {"way": "mail", "to": "care@fennmoor.example", "text": f"We say: {NEUTRAL}"},
    )
    assert OutgoingMail.objects.get(kind="reply").to == "care@fennmoor.example"
    client.post(
        reverse("supply:record_reply", args=[statement.pk]),
        {"text": "We replaced it.", "who": "Their office", "on_date": clock.today().isoformat()},
    )

    assert list_blocks(case) == []
    page = client.get(statement.get_absolute_url()).content.decode()
    assert "Yes: it is shown, asked about and neutrally worded." in page
    assert "We replaced it." in page


def test_the_form_that_asks_holds_the_very_words(client: Client, reviewer: User) -> None:
    """As proposed it can be sent; the letter says how long the desk waits."""
    case = make_case_of()
    maker = make_maker(
        reviewer, name="Tolvane", contact_email="care@tolvane.example", contact_name="Customer care"
    )
    statement = write_statement(maker, case, f"{NEUTRAL}\nIt was dried.", actor=reviewer)

    form = client.get(statement.get_absolute_url()).context["ask_form"]

    assert (form["way"].value(), form["to"].value()) == ("mail", "care@tolvane.example")
    assert statement.text in form["text"].value()
    assert "7 days" in form["text"].value()
    sent = {name: form[name].value() for name in ("way", "to", "text")}
    sent["text"] = sent["text"].replace("\n", "\r\n")  # as browsers send line ends
    assert client.post(reverse("supply:ask_reply", args=[statement.pk]), sent).status_code == 302


@pytest.mark.parametrize(
    ("name", "typed", "said"),
    [
        ("change_statement", {"text": "", "version": "1"}, "Write what will be said."),
        ("change_statement", {"text": "x" * 4001, "version": "1"}, "4,000 characters"),
        ("add_picture", {"photo": "999999", "shows": "x"}, "valid choice"),
        ("ask_reply", {"way": "mail", "to": "them", "text": NEUTRAL}, "needs an e-mail address"),
        ("ask_reply", {"way": "form", "to": "them", "text": "Hello"}, "word for word"),
        (
            "ask_reply",
            {"way": "form", "to": "x", "text": NEUTRAL, "on_date": "2999-01-01"},
            "lies in the future",
        ),
        ("record_reply", {"text": "a", "who": "b", "on_date": "soon"}, "a day such as"),
        ("drop_statement", {"why": " "}, "Say why it will not be said."),
    ],
)
def test_a_bad_step_is_refused_and_nothing_typed_is_lost(
    client: Client, reviewer: User, name: str, typed: dict[str, str], said: str
) -> None:
    maker = make_maker(reviewer, name="Tolvane")
    statement = write_statement(maker, make_case_of(), NEUTRAL, actor=reviewer)

    response = client.post(reverse(f"supply:{name}", args=[statement.pk]), typed)

    assert response.status_code == 422
    page = response.content.decode()
    assert said in page
    assert "<title>\n  Error: " in page or "<title>Error: " in page
    assert Statement.objects.get().text == NEUTRAL
    assert not ReplyRequest.objects.exists()
    assert not Remark.objects.exists()


def test_an_older_version_does_not_overwrite(client: Client, reviewer: User) -> None:
    """Both are there: theirs is kept, one's own stands in the form."""
    maker = make_maker(reviewer, name="Tolvane")
    statement = write_statement(maker, make_case_of(), NEUTRAL, actor=reviewer)
    address = reverse("supply:change_statement", args=[statement.pk])
    client.post(address, {"text": "Theirs", "version": 1})

    response = client.post(address, {"text": "Mine", "version": 1})

    assert response.status_code == 409
    assert ">\nMine</textarea>" in response.content.decode()
    assert Statement.objects.get().text == "Theirs"


def test_nothing_adverse_is_kept_from_the_panel(client: Client, reviewer: User) -> None:
    case = make_case_of()
    confirm(case, reviewer)
    panel = reverse("supply:case_panel", args=[case.pk])
    assert (
        "names a maker: Fennmoor PLA"
        in client.get(panel, headers={"HX-Request": "true"}).content.decode()
    )

    client.post(reverse("supply:nothing_adverse", args=[case.pk]), {"reason": "We show a gauge"})

    assert NothingAdverse.objects.get().reason == "We show a gauge"
    assert "We show a gauge" in client.get(panel).content.decode()


def test_a_correction_is_added_listed_and_withdrawn(client: Client, reviewer: User) -> None:
    maker = make_maker(reviewer)
    typed = {
        "subject": maker.pk,
        "kind": "correction",
        "said": "They wind their own spools.",
        "text": "Another firm winds them.",
        "who": "Their office",
        "on_date": clock.today().isoformat(),
        "episode_number": "12",
        "second": "30:05",
    }

    client.post(reverse("supply:new_correction"), typed)
    remark = Remark.objects.get()
    page = client.get(reverse("supply:corrections")).content.decode()
    refused = client.post(reverse("supply:withdraw_correction", args=[remark.pk]), {"why": ""})
    client.post(reverse("supply:withdraw_correction", args=[remark.pk]), {"why": "It was wrong"})

    assert (remark.episode_number, remark.second) == (12, 1805)
    assert "Another firm winds them." in page
    assert "30:05" in page
    assert refused.status_code == 422
    remark.refresh_from_db()
    assert remark.withdrawn_why == "It was wrong"
    assert "It was wrong" in client.get(reverse("supply:corrections")).content.decode()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"said": ""}, "Say what was said"),
        ({"episode_number": ""}, "needs the number of its episode"),
        ({"second": "half past"}, "such as 30:05"),
        ({"subject": "999999"}, "valid choice"),
        ({"on_date": "2999-01-01"}, "lies in the future"),
    ],
)
def test_a_bad_correction_is_refused(
    client: Client, reviewer: User, change: dict[str, str], said: str
) -> None:
    typed: dict[str, object] = {
        "subject": make_maker(reviewer).pk,
        "kind": "correction",
        "said": "a",
        "text": "b",
        "who": "c",
        "on_date": clock.today().isoformat(),
        "episode_number": "3",
        "second": "10",
    }

    response = client.post(reverse("supply:new_correction"), typed | change)

    assert response.status_code == 422
    assert said in response.content.decode()
    assert not Remark.objects.exists()


def test_a_draft_that_names_a_maker_shows_what_stands_on_it(client: Client, reviewer: User) -> None:
    case = make_case_of()
    maker = list_subjects_of(case)[0].parent
    assert maker is not None
    new = NewRemark(text="Another firm winds them.", who="Their office", on_date=clock.today())
    add_remark(maker, new, actor=reviewer)
    draft = draft_answer(case, reviewer)
    address = reverse("supply:answer_mentions", args=[case.pk])
    draft.body = "Measure the strand."
    draft.save(update_fields=["body"])
    before = client.get(address).content.decode()
    draft.body = "Measure the strand of your Fennmoor spool."
    draft.save(update_fields=["body"])

    after = client.get(address, headers={"HX-Request": "true"}).content.decode()

    assert "Another firm winds them." not in before
    assert "Another firm winds them." in after
    assert after.lstrip().startswith('<div id="answer-mentions"')


def test_subjects_are_found_by_name(client: Client, reviewer: User) -> None:
    """By another name too, and with the state of what is said of them."""
    maker = make_maker(reviewer, other_names=["Fenn Moor"])
    write_statement(maker, make_case_of("Quayside Polymers"), NEUTRAL, actor=reviewer)

    found = client.get(reverse("supply:subjects"), {"words": "FENN moor"}).content.decode()
    missing = client.get(reverse("supply:subjects"), {"words": "qxz"}).content.decode()

    assert "1 may not be said yet" in found
    assert "Quayside" not in found
    assert "No subject has this name." in missing
