"""Standing corrections and replies come up whenever their subject is named."""

import datetime

import pytest

from helpdesk.core import clock
from helpdesk.supply.models import Remark, RemarkKind, Subject, SubjectKind, SubjectName
from helpdesk.supply.names import fold, is_name
from helpdesk.supply.selectors import list_mentions

pytestmark = pytest.mark.django_db


def _subject(name: str, kind: str = SubjectKind.MAKER, *others: str, **fields: object) -> Subject:
    made = Subject.objects.create(name=name, kind=kind, made_at=clock.now(), **fields)
    for other in others:
        SubjectName.objects.create(subject=made, name=other, name_key=fold(other))
    return made


def _remark(subject: Subject, **fields: object) -> Remark:
    values: dict[str, object] = {
        "kind": RemarkKind.CORRECTION,
        "text": "The spool was wound by another firm.",
        "who": "the maker",
        "on_date": datetime.date(2026, 11, 1),
        "noted_by_name": "Imke",
        "noted_at": clock.now(),
    }
    return Remark.objects.create(subject=subject, **(values | fields))


@pytest.mark.parametrize(
    "text",
    [
        "A spool of Fennmoor came in.",
        "FENNMOOR again",
        "It was fennmoor’s spool.",
        "Two Fennmoors side by side",
        "Fénnmoor, with an accent",
        "bought as Fenn-Moor Polymers",
    ],
)
def test_a_mention_is_found_whatever_its_form(text: str) -> None:
    """Case, accents, plural, possessive and other names make no difference."""
    _remark(_subject("Fennmoor", SubjectKind.MAKER, "Fenn Moor Polymers"))

    assert [m.subject for m in list_mentions(["Hello.", text])] == ["Fennmoor"]


@pytest.mark.parametrize("text", ["The Fennmoorland fair", "underFennmoor", "Fenn", "", "PLA"])
def test_a_part_of_a_word_is_no_mention(text: str) -> None:
    """A name inside a longer word is another word."""
    _remark(_subject("Fennmoor"))

    assert list_mentions([text]) == []


def test_and_and_its_sign_are_one() -> None:
    """A maker written with "&" and one written with "and" are the same."""
    _remark(_subject("Ostler & Pike"))

    assert len(list_mentions(["bought from ostler and pike"])) == 1
    assert len(list_mentions(["an Ostler&Pike spool"])) == 1


def test_a_product_needs_its_makers_name() -> None:
    """A correction on one maker's PLA does not come up for everybody's."""
    maker = _subject("Fennmoor")
    _remark(_subject("PLA", SubjectKind.PRODUCT, parent=maker, product_kind="filament"))

    assert list_mentions(["All PLA takes up water."]) == []
    assert [m.subject for m in list_mentions(["Fennmoor PLA takes up water."])] == ["Fennmoor PLA"]


def test_a_batch_comes_up_by_its_number() -> None:
    """A lot number with a figure names the batch by itself; a short one needs the word."""
    maker = _subject("Fennmoor")
    _remark(_subject("FM-2291", SubjectKind.BATCH, parent=maker))
    _remark(_subject("7", SubjectKind.BATCH, parent=maker))

    assert len(list_mentions(["the roll says FM 2291"])) == 1
    assert list_mentions(["7 prints failed"]) == []
    assert len(list_mentions(["it was lot 7"])) == 1


def test_a_mention_says_where_it_was_aired() -> None:
    """Episode and second come along, and what was withdrawn does not."""
    maker = _subject("Fennmoor")
    told = _remark(maker, episode_number=12, second=1805, kind=RemarkKind.REPLY)
    _remark(maker, withdrawn_at=clock.now())

    (mention,) = list_mentions(["Fennmoor"])

    assert (mention.kind, mention.episode_number, mention.second) == ("reply", 12, 1805)
    assert mention.url == told.get_absolute_url()
    assert mention.text == "The spool was wound by another firm."


@pytest.mark.parametrize(
    "text", ["unknown", "Not sure", "?", "", "x" * 60, "n/a", "I do not know it"]
)
def test_what_names_nobody_is_no_name(text: str) -> None:
    """Reports are free text; what somebody writes who does not know makes no maker."""
    assert not is_name(text)


def test_a_name_is_a_name() -> None:
    assert is_name("Ostler & Pike")
