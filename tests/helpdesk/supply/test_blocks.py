"""What keeps a case with something adverse from being aired: each condition missing alone."""

import datetime
from collections.abc import Callable
from typing import Any

import pytest

from helpdesk.accounts.models import User
from helpdesk.cases.joining import join_cases, part_case
from helpdesk.cases.models import Case
from helpdesk.cases.services import Consent, record_consent
from helpdesk.core import clock
from helpdesk.outbox.models import OutgoingMail
from helpdesk.outbox.services import note_undelivered
from helpdesk.supply.errors import RefusedWordsError, StaleWordsError
from helpdesk.supply.models import (
    EvidencePicture,
    ReplyRequest,
    Statement,
    SubjectCase,
    WordingOverride,
)
from helpdesk.supply.remarks import NewRemark, withdraw_remark
from helpdesk.supply.selectors import blocks_of, list_blocks, list_subjects_of
from helpdesk.supply.services import drop_link, note_subjects
from helpdesk.supply.statements import (
    Asking,
    add_picture,
    ask_reply,
    change_statement,
    drop_statement,
    let_stand,
    record_reply,
    say_nothing_adverse,
    write_statement,
)
from tests.helpdesk.supply.makers import (
    NEUTRAL,
    add_photo,
    ask_by_hand,
    confirm,
    make_case_of,
    make_maker,
    make_sayable,
    send_letters,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def case(reviewer: User) -> Case:
    """Open a case that names a maker."""
    return make_case_of()


@pytest.fixture
def sayable(case: Case, reviewer: User) -> Statement:
    """Give a statement that may be aired."""
    return make_sayable(case, make_maker(reviewer, name="Fennmoor Works"), reviewer)


def test_a_case_that_says_nothing_of_anybody_is_free(case: Case) -> None:
    assert list_blocks(case) == []


def test_a_statement_with_everything_is_free(case: Case, sayable: Statement) -> None:
    assert list_blocks(case) == []


def _no_picture(statement: Statement) -> None:
    EvidencePicture.objects.all().delete()


def _consent_taken_back(statement: Statement) -> None:
    assert statement.case
    record_consent(statement.case, Consent(), given_by="the person")


def _not_asked(statement: Statement) -> None:
    ReplyRequest.objects.all().delete()


def _time_left(statement: Statement) -> None:
    ReplyRequest.objects.update(on_date=clock.today() - datetime.timedelta(days=7))


def _other_words(statement: Statement) -> None:
    Statement.objects.update(text=f"{NEUTRAL} The bag was open.")


def _loaded_words(statement: Statement) -> None:
    text = "This spool, printed at 210 °C, is garbage."
    Statement.objects.update(text=text)
    ReplyRequest.objects.update(statement_text=text)


@pytest.mark.parametrize(
    ("take_away", "said"),
    [
        (_no_picture, "No picture shows yet"),
        (_consent_taken_back, "may not be shown"),
        (_not_asked, "has not been asked for a reply yet"),
        (_time_left, "may reply until"),
        (_other_words, "was changed after they were asked"),
        (_loaded_words, "“garbage”"),
    ],
)
def test_each_condition_missing_alone_keeps_it_back(
    case: Case, sayable: Statement, take_away: Callable[[Statement], None], said: str
) -> None:
    """Exactly one sentence, and it says what is missing."""
    take_away(sayable)

    (block,) = list_blocks(case)
    assert said in block
    assert "Fennmoor Works" in block


def test_the_sentence_says_until_when(case: Case, sayable: Statement, settings: Any) -> None:
    """The waiting time is a setting; the day after its last day it is over."""
    settings.REPLY_DAYS = 10
    asked_on = sayable.requests.get().on_date
    last = asked_on + datetime.timedelta(days=10)
    noon = datetime.datetime.combine(last, datetime.time(12), tzinfo=datetime.UTC)

    with clock.standing_at(noon):
        (block,) = list_blocks(case)
    with clock.standing_at(noon + datetime.timedelta(days=1)):
        after = list_blocks(case)

    assert f"until {last.day} {last:%B %Y}" in block
    assert after == []


def test_a_reply_ends_the_waiting_until_it_is_withdrawn(
    case: Case, sayable: Statement, reviewer: User
) -> None:
    _time_left(sayable)
    new = NewRemark(text="We replaced it.", who="Their office", on_date=clock.today())

    remark = record_reply(sayable, new, actor=reviewer)

    assert list_blocks(case) == []
    withdraw_remark(remark.pk, why="It was somebody else’s", actor=reviewer)
    assert len(list_blocks(case)) == 1


def test_a_reply_answers_the_words_it_was_given_to(
    case: Case, sayable: Statement, reviewer: User
) -> None:
    """Worse words than those they replied to are asked about again."""
    reply = NewRemark(text="We look into it.", who="Care", on_date=clock.today())
    record_reply(sayable, reply, actor=reviewer)
    assert list_blocks(case) == []

    change_statement(sayable.pk, f"{NEUTRAL} Both ends broke.", version=1, actor=reviewer)

    assert "changed after they were asked" in list_blocks(case)[0]


def test_a_letter_counts_from_the_day_it_went(case: Case, reviewer: User) -> None:
    """It waits while it is on its way, and one that came back has asked nobody."""
    maker = make_maker(reviewer, name="Quayside Polymers")
    statement = write_statement(maker, case, NEUTRAL, actor=reviewer)
    add_picture(statement, add_photo(case), "The strand", actor=reviewer)
    asking = Asking(way="mail", to="care@quayside.example", text=f"We will say: {NEUTRAL}")

    ask_reply(statement, asking, actor=reviewer)

    assert "has not gone out yet" in list_blocks(case)[0]
    send_letters()
    mail = OutgoingMail.objects.get(kind="reply")
    assert (mail.to, mail.case, bool(mail.sent_at)) == ("care@quayside.example", None, True)
    assert mail.in_reply_to == ""
    assert "may reply until" in list_blocks(case)[0]
    note_undelivered(message_id=mail.message_id, status="5.1.1", words="No such user")
    assert "did not arrive" in list_blocks(case)[0]


def test_a_form_sent_twice_asks_once(case: Case, reviewer: User) -> None:
    """The same letter goes again only when it came back; other words are another letter."""
    statement = write_statement(
        make_maker(reviewer, name="Quayside Polymers"), case, NEUTRAL, actor=reviewer
    )
    asking = Asking(way="mail", to="care@quayside.example", text=f"We will say: {NEUTRAL}")

    first = ask_reply(statement, asking, actor=reviewer)
    assert ask_reply(statement, asking, actor=reviewer) == first
    send_letters()
    assert ask_reply(statement, asking, actor=reviewer) == first
    assert OutgoingMail.objects.filter(kind="reply").count() == 1

    reminder = Asking(way="mail", to=asking.to, text=f"Once more: {NEUTRAL}")
    assert ask_reply(statement, reminder, actor=reviewer) != first
    assert first.mail
    note_undelivered(message_id=first.mail.message_id, status="5.1.1", words="No such user")
    assert ask_reply(statement, asking, actor=reviewer) != first
    assert OutgoingMail.objects.filter(kind="reply").count() == 3


def test_letters_to_makers_do_not_hang_together(case: Case, reviewer: User) -> None:
    """A letter about no case names no other one before it."""
    maker = make_maker(reviewer, name="Quayside Polymers")
    statement = write_statement(maker, case, NEUTRAL, actor=reviewer)
    for place in ("one", "two"):
        asking = Asking(way="mail", to=f"{place}@quayside.example", text=f"{place}: {NEUTRAL}")
        ask_reply(statement, asking, actor=reviewer)
    send_letters()

    assert list(
        OutgoingMail.objects.values_list("in_reply_to", flat=True).filter(kind="reply")
    ) == [
        "",
        "",
    ]


def test_a_verdict_that_names_a_maker_proposes_a_statement(case: Case, reviewer: User) -> None:
    """Without a decision the case is kept back, and told whom it names."""
    confirm(case, reviewer)

    (block,) = list_blocks(case)

    assert "names a maker: Fennmoor PLA" in block


def test_a_named_maker_counts_before_the_desk_linked_it(reviewer: User) -> None:
    """No gap lies between the report and the background work."""
    case = make_case_of()
    SubjectCase.objects.filter(case=case).delete()
    confirm(case, reviewer)

    assert "names a maker: Fennmoor." in list_blocks(case)[0]


@pytest.mark.parametrize("maker", ["", "unknown", "no idea"])
def test_a_verdict_without_a_maker_is_free(reviewer: User, maker: str) -> None:
    case = make_case_of(maker)
    confirm(case, reviewer)

    assert list_blocks(case) == []


def test_another_fault_names_nobody(case: Case, reviewer: User) -> None:
    confirm(case, reviewer, "belt-loose")

    assert list_blocks(case) == []


def test_nothing_adverse_frees_the_case_until_something_new_is_named(
    case: Case, reviewer: User
) -> None:
    """The decision covers what was known; a further fault asks for a new one."""
    confirm(case, reviewer)
    with pytest.raises(RefusedWordsError, match="why"):
        say_nothing_adverse(case, " ", actor=reviewer)
    assert len(list_blocks(case)) == 1

    say_nothing_adverse(case, "We show how to measure, not whose spool", actor=reviewer)

    assert list_blocks(case) == []
    confirm(case, reviewer, "filament-poor-batch")
    assert len(list_blocks(case)) == 1


def test_a_link_taken_away_names_nobody_any_more(reviewer: User) -> None:
    """It is not linked again when the desk looks at the case once more."""
    case = make_case_of()
    (subject,) = list_subjects_of(case)

    drop_link(subject, case, actor=reviewer)
    note_subjects(case.pk)

    assert list_subjects_of(case) == []


def test_a_joined_case_keeps_its_lead_back(case: Case, reviewer: User) -> None:
    """They are one print; parted again, only the one with the statement is kept back."""
    joined = make_case_of(email="aurel@quay.example")
    write_statement(make_maker(reviewer, name="Tolvane"), joined, NEUTRAL, actor=reviewer)
    join_cases(joined, into=case, actor=reviewer)
    together = blocks_of([case.pk, joined.pk])

    part_case(joined, actor=reviewer)

    assert [len(together[pk]) for pk in (case.pk, joined.pk)] == [2, 2]
    apart = blocks_of([case.pk, joined.pk])
    assert [len(apart[pk]) for pk in (case.pk, joined.pk)] == [0, 2]


def test_many_cases_cost_no_more_queries_than_one(
    reviewer: User, django_assert_max_num_queries: Any
) -> None:
    cases = []
    for number in range(4):
        case = make_case_of(email=f"person{number}@tarnstreet.example")
        maker = make_maker(reviewer, name=f"Maker {number}")
        make_sayable(case, maker, reviewer, text=f"{NEUTRAL} Garbage.")
        cases.append(case)
    confirm(make_case_of(), reviewer)

    with django_assert_max_num_queries(11):
        blocks = blocks_of(case.pk for case in cases)

    assert [len(blocks[case.pk]) for case in cases] == [1, 1, 1, 1]
    assert all("“Garbage”" in blocks[case.pk][0] for case in cases)


def test_a_wording_stands_with_a_kept_reason_in_its_own_sentence(
    case: Case, sayable: Statement, reviewer: User, producer: User
) -> None:
    """In a changed sentence the same word is marked again."""
    _loaded_words(sayable)
    sayable.refresh_from_db()
    with pytest.raises(RefusedWordsError, match="reason"):
        let_stand(sayable, rule="insult", phrase="garbage", reason="", actor=producer)
    with pytest.raises(RefusedWordsError, match="not marked"):
        let_stand(sayable, rule="insult", phrase="junk", reason="Quoted", actor=producer)

    let_stand(sayable, rule="insult", phrase="garbage", reason="Their own word", actor=producer)

    assert list_blocks(case) == []
    kept = WordingOverride.objects.get()
    assert (kept.reason, kept.by_name) == ("Their own word", "Wren")
    change_statement(
        sayable.pk, "All of it, one spool at 210 °C, is garbage.", version=1, actor=reviewer
    )
    assert any("“garbage”" in block for block in list_blocks(case))


def test_a_reply_is_asked_for_with_the_very_words(case: Case, reviewer: User) -> None:
    statement = write_statement(make_maker(reviewer, name="Tolvane"), case, NEUTRAL, actor=reviewer)

    with pytest.raises(RefusedWordsError, match="word for word"):
        ask_reply(statement, Asking(way="form", to="x", text="Hello"), actor=reviewer)
    tomorrow = clock.today() + datetime.timedelta(days=1)
    with pytest.raises(RefusedWordsError, match="future"):
        ask_reply(
            statement,
            Asking(way="form", to="x", text=NEUTRAL, on_date=tomorrow),
            actor=reviewer,
        )

    assert not ReplyRequest.objects.exists()


def test_a_picture_of_another_makers_case_is_no_evidence(case: Case, reviewer: User) -> None:
    statement = write_statement(make_maker(reviewer, name="Tolvane"), case, NEUTRAL, actor=reviewer)
    photo = add_photo(make_case_of("Quayside Polymers"), 70)

    with pytest.raises(RefusedWordsError, match="does not name Tolvane"):
        add_picture(statement, photo, "The strand", actor=reviewer)
    with pytest.raises(RefusedWordsError, match="Say in a word"):
        add_picture(statement, photo, "  ", actor=reviewer)


def test_changed_against_an_older_version_nothing_is_lost(
    sayable: Statement, reviewer: User
) -> None:
    change_statement(sayable.pk, "One spool, at 200 °C.", version=1, actor=reviewer)

    with pytest.raises(StaleWordsError):
        change_statement(sayable.pk, "Two spools, at 200 °C.", version=1, actor=reviewer)

    assert Statement.objects.get(pk=sayable.pk).text == "One spool, at 200 °C."


def test_a_statement_taken_back_leaves_a_line(
    case: Case, sayable: Statement, reviewer: User
) -> None:
    with pytest.raises(RefusedWordsError, match="Say why"):
        drop_statement(sayable, actor=reviewer, why="")

    drop_statement(sayable, actor=reviewer, why="The gauge was off")

    assert list_blocks(case) == []
    event = case.events.filter(kind="supply").latest("pk")
    assert "The gauge was off" in event.why
    assert NEUTRAL in event.why


def test_a_statement_asked_by_hand_says_who_and_how(sayable: Statement, reviewer: User) -> None:
    ask_by_hand(sayable, reviewer, days_ago=1)

    asked = sayable.requests.latest("pk")
    assert (asked.way, asked.to, asked.asked_by_name) == ("form", "Their form", "Imke")
