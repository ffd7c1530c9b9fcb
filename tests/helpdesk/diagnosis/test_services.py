"""Running the engine on cases, marks and verdicts."""

from typing import Any

import pytest

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case, MessageKind, QueueRank
from helpdesk.cases.services import add_message, erase_person
from helpdesk.core.errors import RefusedInputError
from helpdesk.core.jobs import run_due_jobs
from helpdesk.core.models import Job
from helpdesk.diagnosis.errors import UnknownThingError
from helpdesk.diagnosis.models import DiagnosisRun
from helpdesk.diagnosis.selectors import get_view, list_marks, list_verdicts
from helpdesk.diagnosis.services import diagnose_case, mark_finding, set_verdict
from tests.factories import make_case

STORY = "I heard a knocking while it printed, then the top was shifted. The belt is not loose."
pytestmark = pytest.mark.django_db


def diagnosed(**fields: Any) -> Case:
    """Open a case and let the engine look at it."""
    case = make_case(**({"story": STORY} | fields))
    diagnose_case(case.pk, cause="report received")
    case.refresh_from_db()
    return case


def test_report_is_diagnosed_by_its_job() -> None:
    """Opening a case leaves a job that stores a run and copies its head to the case."""
    case = make_case(story=STORY)

    run_due_jobs()

    case.refresh_from_db()
    view = get_view(case)
    assert view is not None
    assert (case.top_fault, case.top_fault_name) == (view.suspects[0].fault, view.suspects[0].name)
    assert case.top_probability == pytest.approx(view.suspects[0].probability, abs=1e-6)
    assert view.cause == "report received"


def test_view_is_none_before_the_first_run() -> None:
    """A fresh case has no view yet."""
    assert get_view(make_case()) is None


def test_repeated_run_is_stored_once() -> None:
    """A job done twice leaves one run and one history."""
    case = diagnosed()
    events = case.events.count()

    diagnose_case(case.pk, cause="report received")

    assert case.runs.count() == 1
    assert case.events.count() == events


def test_view_needs_no_engine(django_assert_num_queries: Any) -> None:
    """The page reads one row."""
    case = diagnosed()

    with django_assert_num_queries(1):
        view = get_view(case)

    assert view is not None
    assert view.plan
    assert max(question.share for question in view.questions) == 1.0
    assert view.last_resort is not None
    assert view.sets


def test_danger_moves_the_case_to_the_top_and_back(reviewer: User) -> None:
    """A burning smell ranks first; marking its finding absent takes the danger off."""
    case = diagnosed(story=STORY + " There is a burning smell from the plug.")
    assert case.queue_rank == QueueRank.DANGER
    view = get_view(case)
    assert view is not None

    for finding in view.dangers[0].findings:
        mark_finding(case, finding, "absent", actor=reviewer)

    assert (case.danger_name, case.queue_rank) == ("", QueueRank.OURS)
    case.refresh_from_db()
    assert (case.danger_name, case.queue_rank) == ("", QueueRank.OURS)
    assert case.events.filter(kind="danger", what="No danger any more").exists()


def test_mark_moves_the_ranking_and_says_so(reviewer: User) -> None:
    """Marking leaves a new run and an event with who and what moved."""
    case = diagnosed()
    before = get_view(case)

    run = mark_finding(case, "belt-slack", "present", actor=reviewer)

    event = case.events.get(kind="finding")
    assert event.what.endswith(": present")
    assert event.actor == reviewer
    assert " rose from " in event.why or " fell from " in event.why
    after = get_view(case)
    assert before is not None
    assert after is not None
    assert after.suspects != before.suspects
    assert run == case.runs.last()


def test_mark_twice_is_one_change(reviewer: User) -> None:
    """Pressing the same radio again writes nothing."""
    case = diagnosed()
    mark_finding(case, "belt-slack", "present", actor=reviewer)

    mark_finding(case, "belt-slack", "present", actor=reviewer)

    assert case.events.filter(kind="finding").count() == 1
    assert list_marks(case).count() == 1


def test_unknown_by_a_reviewer_withdraws_the_reading(reviewer: User) -> None:
    """The words do not mean what was read: the finding weighs nothing any more."""
    case = diagnosed()

    mark_finding(case, "knocks-heard", "unknown", actor=reviewer)

    view = get_view(case)
    assert view is not None
    states = {finding.id: finding.state for finding in view.findings}
    assert states["knocks-heard"] == "unknown"
    assert not any(r.finding == "knocks-heard" for s in view.suspects for r in s.reasons)


def test_person_who_cannot_tell_overrules_nobody(reviewer: User) -> None:
    """Not being able to tell leaves a reviewer's mark as it is."""
    case = diagnosed()
    mark_finding(case, "belt-slack", "present", actor=reviewer)

    mark_finding(case, "belt-slack", "unknown", source="person")

    assert list_marks(case).get().state == "present"


def test_person_who_cannot_tell_is_not_asked_again() -> None:
    """The question gives way to another one."""
    case = diagnosed()
    view = get_view(case)
    assert view is not None
    first = view.questions[0].finding

    mark_finding(case, first, "unknown", source="person")

    again = get_view(case)
    assert again is not None
    assert first not in {question.finding for question in again.questions}
    assert case.events.get(kind="finding").actor_name == "the person"


@pytest.mark.parametrize("finding", ["no-such-finding", "", "<script>"])
def test_unknown_finding_is_refused(finding: str) -> None:
    """A forged id changes nothing."""
    case = diagnosed()

    with pytest.raises(UnknownThingError):
        mark_finding(case, finding, "present")

    assert not list_marks(case).exists()


def test_unknown_state_is_refused() -> None:
    """There are three states."""
    with pytest.raises(RefusedInputError, match="present, absent or unknown"):
        mark_finding(diagnosed(), "belt-slack", "perhaps")


def test_reply_is_read_with_the_story() -> None:
    """What the person writes later counts, and marks nothing in the story."""
    case = diagnosed(story="Something went wrong.")
    add_message(case, kind=MessageKind.REPLY, body=STORY, author_name="Bettine")

    diagnose_case(case.pk, cause="reply")

    view = get_view(case)
    assert view is not None
    assert "knocks-heard" in {finding.id for finding in view.findings}
    assert view.spans == ()


def test_note_and_question_are_not_read() -> None:
    """Only the person's own words are evidence."""
    case = diagnosed(story="Something went wrong.")
    add_message(case, kind=MessageKind.NOTE, body=STORY)
    add_message(case, kind=MessageKind.QUESTION, body=STORY)

    diagnose_case(case.pk, cause="again")

    view = get_view(case)
    assert view is not None
    assert "knocks-heard" not in {finding.id for finding in view.findings}


def test_new_suspicion_asks_for_the_index() -> None:
    """The search index follows the first look at a case."""
    case = diagnosed()

    keys = Job.objects.filter(kind="index-case").values_list("key", flat=True)
    run = DiagnosisRun.objects.get(case=case)
    assert f"index-case:{case.pk}:run:{run.pk}" in set(keys)


def test_verdict_keeps_order_and_names(reviewer: User) -> None:
    """The main fault stands first, and the history names them."""
    case = diagnosed()

    set_verdict(case, ["belt-loose", "nozzle-hits-print"], actor=reviewer)

    assert [v.fault for v in list_verdicts(case)] == ["belt-loose", "nozzle-hits-print"]
    assert case.events.get(kind="verdict").what.startswith("Verdict: ")


def test_verdict_repeated_is_one_event(reviewer: User) -> None:
    """The same verdict again changes nothing; an empty one takes it back."""
    case = diagnosed()
    set_verdict(case, ["belt-loose"], actor=reviewer)
    set_verdict(case, ["belt-loose", "belt-loose"], actor=reviewer)
    assert case.events.filter(kind="verdict").count() == 1

    set_verdict(case, [], actor=reviewer)

    assert not list_verdicts(case).exists()
    assert case.events.filter(what="Verdict taken back").exists()


def test_forged_verdict_changes_nothing(reviewer: User) -> None:
    """One unknown fault among known ones refuses all of them."""
    case = diagnosed()

    with pytest.raises(UnknownThingError):
        set_verdict(case, ["belt-loose", "no-such-fault"], actor=reviewer)

    assert not list_verdicts(case).exists()


def test_erased_case_can_be_looked_at_again() -> None:
    """Without words the engine still answers, and no danger comes back."""
    case = diagnosed(story=STORY + " There is a burning smell from the plug.")
    erase_person(case, by="the person")

    diagnose_case(case.pk, cause="again")

    case.refresh_from_db()
    assert case.danger_name == ""
    view = get_view(case)
    assert view is not None
    assert view.spans == ()
