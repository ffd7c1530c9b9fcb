"""Joining cases about the same print: a union that can be taken apart in any order."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from helpdesk.cases.erasure import erase_parts
from helpdesk.cases.errors import JoinError
from helpdesk.cases.joining import join_cases, part_case
from helpdesk.cases.models import Case, CaseState, OutcomeResult, QueueRank
from helpdesk.cases.selectors import count_waiting_cases, list_open_cases
from helpdesk.cases.services import (
    change_state,
    claim_case,
    erase_person,
    record_outcome,
    set_danger,
)
from helpdesk.review.selectors import find_next_cases
from tests.factories import make_case

pytestmark = pytest.mark.django_db
HELD = [
    field.attname
    for field in Case._meta.concrete_fields
    if field.attname not in ("joined_to_id", "joined_with_id", "queue_rank")
]


def _read(case):
    case.refresh_from_db()
    return case


def _rows():
    return list(Case.objects.order_by("pk").values())


def test_join_cases_takes_the_joined_one_out_of_the_queue(reviewer):
    lead, other = make_case(), make_case()

    found = join_cases(other, into=lead, actor=reviewer, why="The same photo")

    assert found == lead
    assert other.joined_to == lead
    assert other.queue_rank == QueueRank.JOINED
    assert list(list_open_cases()) == [lead]
    assert find_next_cases(limit=5) == [lead.pk]
    assert count_waiting_cases() == 1
    for case, words in ((other, "Joined to case"), (lead, f"Case {other.pk} joined")):
        event = case.events.get(kind="joined")
        assert event.what.startswith(words)
        assert (event.actor, event.why) == (reviewer, "The same photo")


def test_part_case_restores_every_field(reviewer):
    """Nothing of either case differs from before, whoever had it and whatever it waited for."""
    lead, other = make_case(), make_case()
    claim_case(other.pk, user=reviewer)
    change_state(_read(other), CaseState.ASKED)
    set_danger(_read(other), "Smoke")
    before = _rows()

    join_cases(other, into=lead, actor=reviewer)
    assert _rows() != before
    part_case(other, actor=reviewer)

    assert _rows() == before
    assert [event.kind for event in lead.events.order_by("pk")][-2:] == ["joined", "parted"]


def test_join_cases_twice_or_the_other_way_round_changes_nothing():
    lead, other = make_case(), make_case()
    join_cases(other, into=lead)
    before, events = _rows(), lead.events.count()

    join_cases(other, into=lead)
    assert join_cases(lead, into=other) == lead

    assert _rows() == before
    assert lead.events.count() == events


def test_join_cases_makes_no_chains():
    """Joining a lead moves its cases with it; joining to a joined case goes to its lead."""
    a, b, c, d = (make_case() for _ in range(4))
    join_cases(b, into=a)
    join_cases(a, into=c)
    join_cases(d, into=b)

    assert {case.joined_to_id for case in map(_read, (a, b, d))} == {c.pk}
    assert _read(c).joined_to is None


def test_part_case_takes_along_what_it_had_brought():
    a, b, c, d, e = (make_case() for _ in range(5))
    join_cases(b, into=a)
    join_cases(a, into=c)
    join_cases(d, into=c)
    join_cases(c, into=e)

    part_case(c)

    assert _read(c).joined_to is None
    assert {case.joined_to_id for case in map(_read, (a, b, d))} == {c.pk}
    part_case(a)
    assert (_read(b).joined_to, _read(a).joined_to, _read(d).joined_to) == (a, None, c)


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(pairs=st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5)), max_size=8))
def test_joining_and_parting_in_reverse_restores_everything(db, pairs):
    """Whatever is joined in whatever order, there is one lead a group and the way back is exact."""
    cases = [make_case() for _ in range(6)]
    undo = []
    for one, other in pairs:
        if one == other:
            continue
        before = Case.objects.order_by("pk").values()
        snapshot = list(before)
        lead_before = _read(cases[one]).joined_to or cases[one]
        lead = join_cases(cases[one], into=cases[other])
        assert lead.joined_to is None
        if list(before.all()) != snapshot:
            undo.append((lead_before, snapshot))
        leads = {c.pk: c.joined_to_id for c in Case.objects.all()}
        assert not [pk for pk, to in leads.items() if to and leads[to]]

    for moved, snapshot in reversed(undo):
        part_case(_read(moved))
        assert list(Case.objects.order_by("pk").values()) == snapshot


def test_join_cases_refuses_itself_and_the_erased():
    case, gone = make_case(), make_case()
    erase_person(gone, by="the person")

    with pytest.raises(JoinError, match="itself"):
        join_cases(case, into=case)
    with pytest.raises(JoinError, match="erased"):
        join_cases(case, into=gone)
    with pytest.raises(JoinError, match="not joined"):
        part_case(case)


def test_a_danger_in_a_joined_case_raises_its_lead():
    lead, other = make_case(), make_case()
    join_cases(other, into=lead)

    set_danger(other, "Smoke")
    assert _read(lead).queue_rank == QueueRank.DANGER
    assert _read(other).queue_rank == QueueRank.JOINED

    set_danger(other, "")
    assert _read(lead).queue_rank == QueueRank.OURS


def test_a_failure_told_on_a_joined_case_brings_the_lead_back():
    lead, other = make_case(), make_case()
    join_cases(other, into=lead)
    for case in (lead, other):
        change_state(case, CaseState.ANSWERED)

    record_outcome(other, result=OutcomeResult.DID_NOT_WORK)

    assert _read(lead).state == CaseState.RECEIVED
    assert _read(lead).queue_rank == QueueRank.OURS
    assert f"Case {other.pk}" in lead.events.filter(kind="state").latest("pk").why
    assert not lead.outcomes.exists()


def test_a_cure_told_on_a_joined_case_closes_that_one_alone():
    lead, other = make_case(), make_case()
    join_cases(other, into=lead)
    for case in (lead, other):
        change_state(case, CaseState.ANSWERED)

    record_outcome(other, result=OutcomeResult.WORKED)

    assert _read(other).state == CaseState.CLOSED
    assert _read(lead).state == CaseState.ANSWERED


def test_a_lead_closed_without_an_answer_closes_the_joined_ones(reviewer):
    lead, other = make_case(), make_case()
    join_cases(other, into=lead)

    change_state(lead, CaseState.CLOSED, actor=reviewer, why="An advertisement")

    assert _read(other).state == CaseState.CLOSED
    assert other.events.filter(kind="state").latest("pk").why == "An advertisement"


def test_erasing_a_lead_lets_the_others_go_on():
    lead, first, second = make_case(), make_case(), make_case()
    join_cases(first, into=lead)
    join_cases(second, into=lead)

    erase_parts(lead)
    erase_person(lead, by="the person")

    assert _read(first).joined_to is None
    assert _read(second).joined_to == first
    assert first.queue_rank == QueueRank.OURS
