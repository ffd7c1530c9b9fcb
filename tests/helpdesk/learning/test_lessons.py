"""Cases with a verdict become lessons: what was looked for, what it rests on, what cured."""

import pytest

from helpdesk.accounts.models import User
from helpdesk.answers.models import Answer
from helpdesk.cases.models import NOT_KNOWN, SOMETHING_ELSE, Case
from helpdesk.cases.services import record_outcome
from helpdesk.core import clock
from helpdesk.diagnosis.engine import LessonInput, action_info
from helpdesk.diagnosis.models import DiagnosisRun, Verdict
from helpdesk.diagnosis.services import diagnose_case, mark_finding, set_verdict
from helpdesk.intake.services import erase
from helpdesk.learning.lessons import count_judged_cases, list_lessons
from tests.helpdesk.learning.cases import (
    BRIM,
    OTHER_FAULT,
    TIGHTEN,
    WARP,
    WASH,
    answer,
    judged,
    only_lesson,
)

pytestmark = pytest.mark.django_db


def test_case_without_a_verdict_teaches_nothing(reviewer: User) -> None:
    """A verdict taken back is no verdict."""
    case = judged(reviewer)
    set_verdict(case, [], actor=reviewer)

    assert list_lessons() == []
    assert count_judged_cases() == 0


def test_lesson_holds_what_was_looked_for_and_not_what_was_read(reviewer: User) -> None:
    """Marks of reviewer and person count, unknown ones and readings of the words do not."""
    case = judged(reviewer, story="The corners curl up. I hear a knocking. There are gaps.")
    mark_finding(case, "corners-lifted", "present", actor=reviewer)
    mark_finding(case, "knocks-heard", "absent", source="person")
    mark_finding(case, "gaps-everywhere", "unknown", actor=reviewer)

    lesson = only_lesson()

    assert lesson.findings == {"corners-lifted": True, "knocks-heard": False}
    assert (lesson.id, lesson.process, lesson.material) == (str(case.pk), "MEX", "PLA")


def test_lesson_takes_circumstances_from_the_run_of_its_verdict(reviewer: User) -> None:
    """What the desk took the print for then counts, whatever a later run says."""
    case = judged(reviewer, story="My tray curls up. Since I put in a new nozzle.", facts={})
    seen = DiagnosisRun.objects.get(case=case).result
    later = DiagnosisRun.objects.get(case=case)
    DiagnosisRun.objects.create(
        case=case,
        knowledge_version="later",
        made_at=clock.now(),
        cause="later",
        result={**later.result, "risks": ["made-up"], "material": "PETG"},
    )

    lesson = only_lesson()

    assert lesson.risks == tuple(seen["risks"])
    assert lesson.risks
    assert lesson.material == seen["material"]


def test_material_of_a_case_without_a_run_is_understood(reviewer: User) -> None:
    """The words of the fact are taken where no run says better."""
    case = judged(reviewer, facts={"process": "MEX", "material": "Matt PLA, teal"})
    case.runs.all().delete()

    assert only_lesson().material == "PLA"


def test_verdict_that_follows_the_suggestion_is_accepted(reviewer: User) -> None:
    """The desk's leading faults, however many, in whatever order."""
    case = judged(reviewer)
    first, second = (row[0] for row in case.runs.get().result["ranking"][:2])

    set_verdict(case, [first], actor=reviewer)
    assert only_lesson().basis == "accepted"
    set_verdict(case, [second, first], actor=reviewer)
    assert only_lesson().basis == "accepted"
    set_verdict(case, [second], actor=reviewer)
    assert only_lesson().basis == "confirmed"


def test_basis_rests_on_the_ranking_at_the_time(reviewer: User) -> None:
    """What the desk thinks later, or that its runs are gone, does not change what was judged."""
    case = judged(reviewer)
    leading = case.runs.get().result["ranking"][0][0]
    set_verdict(case, [leading], actor=reviewer)
    assert Verdict.objects.get(case=case).desk_place == 1

    mark_finding(case, "knocks-heard", "absent", actor=reviewer)
    for finding in ("pulley-turns-on-shaft", "shifts-random-and-repeated"):
        mark_finding(case, finding, "present", actor=reviewer)
    assert case.runs.latest("pk").result["ranking"][0][0] != leading
    assert only_lesson().basis == "accepted"

    case.runs.all().delete()
    assert only_lesson().basis == "accepted"


def test_verdict_before_any_run_is_confirmed(reviewer: User) -> None:
    """Nobody could follow a suggestion that was not there."""
    assert judged_without_run(reviewer).basis == "confirmed"


def judged_without_run(reviewer: User) -> LessonInput:
    """Return the lesson of a case the desk never looked at."""
    case = judged(reviewer)
    case.runs.all().delete()
    set_verdict(case, [], actor=reviewer)
    set_verdict(case, [WARP], actor=reviewer)
    return only_lesson()


def test_cure_by_a_step_for_the_verdict_is_the_best_basis(reviewer: User) -> None:
    """The step named cures the verdict's fault by the knowledge."""
    case = judged(reviewer)
    answer(case, WASH, BRIM)
    record_outcome(case, result="worked", remedy=BRIM)

    lesson = only_lesson()

    assert lesson.basis == "cured"
    assert lesson.remedies == {BRIM: True}
    assert WARP in action_info(BRIM).cures


@pytest.mark.parametrize("remedy", ["", NOT_KNOWN])
def test_cure_without_a_step_counts_for_the_answer_of_this_verdict(
    reviewer: User, remedy: str
) -> None:
    """Not knowing the step, the answer written for these faults still put it right."""
    case = judged(reviewer)
    answer(case, WASH, BRIM, faults=[WARP])
    record_outcome(case, result="worked", remedy=remedy)
    assert (only_lesson().basis, only_lesson().remedies) == ("cured", {})

    set_verdict(case, [OTHER_FAULT], actor=reviewer)
    assert only_lesson().basis != "cured"


@pytest.mark.parametrize("remedy", [SOMETHING_ELSE, TIGHTEN])
def test_cure_by_anything_else_says_nothing_for_the_verdict(reviewer: User, remedy: str) -> None:
    """A step that cures none of its faults, or none of ours, does not make it surer."""
    case = judged(reviewer)
    answer(case, WASH, faults=[WARP])
    record_outcome(case, result="worked", remedy=remedy)

    assert only_lesson().basis != "cured"


def test_last_word_decides(reviewer: User) -> None:
    """A cure that did not last is none; not having tried takes nothing back."""
    case = judged(reviewer)
    answer(case, WASH, faults=[WARP])
    record_outcome(case, result="worked", remedy=WASH)
    record_outcome(case, result="untried")
    assert only_lesson().basis == "cured"

    record_outcome(case, result="failed")
    assert (only_lesson().basis, only_lesson().remedies) == ("confirmed", {WASH: False})


def test_failure_tells_of_a_remedy_only_when_it_was_the_only_one(reviewer: User) -> None:
    """Of several remedies nobody said which were done."""
    one, several = judged(reviewer), judged(reviewer)
    answer(one, "slip-of-paper-test", WASH)
    answer(several, WASH, BRIM)

    for case in (one, several):
        record_outcome(case, result="failed")

    assert [lesson.remedies for lesson in list_lessons()] == [{WASH: False}, {}]


def test_step_that_helped_a_little_did_not_cure(reviewer: User) -> None:
    """It was tried, and the print is not right yet."""
    case = judged(reviewer)
    answer(case, WASH, BRIM, faults=[WARP])
    record_outcome(case, result="partly", remedy=BRIM)

    assert (only_lesson().basis, only_lesson().remedies) == ("confirmed", {BRIM: False})


def test_erased_person_leaves_a_lesson_without_a_trace(reviewer: User) -> None:
    """Verdict, looks and cure stay as numbers; no word, name or address is in them."""
    case = judged(reviewer, person_name="Bettine Halvorsen", facts={"process": "MEX"})
    mark_finding(case, "corners-lifted", "present", source="person")
    answer(case, WASH, faults=[WARP])
    record_outcome(case, result="worked", remedy=WASH, said_by="Bettine Halvorsen", words="Yes!")
    before = only_lesson()

    erase(case.pk)

    lesson = only_lesson()
    assert (lesson.faults, lesson.findings) == (before.faults, before.findings)
    assert (lesson.basis, lesson.remedies) == ("cured", {WASH: True})
    assert not DiagnosisRun.objects.filter(case=case).exists()
    assert not Answer.objects.filter(case=case).exists()
    assert "Bettine" not in repr(lesson)
    assert "tarnstreet" not in repr(lesson)


def test_lessons_stand_in_the_order_of_their_verdicts(reviewer: User) -> None:
    """A case judged again moves to the end; foresight is scored in this order."""
    first, second = judged(reviewer), judged(reviewer)
    set_verdict(first, [OTHER_FAULT], actor=reviewer)

    assert [lesson.id for lesson in list_lessons()] == [str(second.pk), str(first.pk)]


def test_many_lessons_cost_the_same_queries(
    reviewer: User, django_assert_max_num_queries: object
) -> None:
    """Cases are read in batches, never one by one."""
    for _ in range(6):
        case = judged(reviewer)
        answer(case, WASH, faults=[WARP])
        record_outcome(case, result="worked", remedy=WASH)

    with django_assert_max_num_queries(7):  # type: ignore[operator]
        assert len(list_lessons()) == 6


def test_verdict_again_after_new_evidence_is_placed_anew(reviewer: User) -> None:
    """A second verdict is measured against the run the reviewer then saw."""
    case: Case = judged(reviewer)
    mark_finding(case, "pulley-turns-on-shaft", "present", actor=reviewer)
    diagnose_case(case.pk, cause="again")
    leading = case.runs.latest("pk").result["ranking"][0][0]

    set_verdict(case, [leading], actor=reviewer)

    assert only_lesson().basis == "accepted"


@pytest.mark.parametrize(
    ("earlier", "remedies"), [("", {}), ("failed", {WASH: False}), ("worked", {WASH: True})]
)
def test_giving_up_is_no_cure_and_tells_nothing_of_remedies(
    reviewer: User, earlier: str, remedies: dict[str, bool]
) -> None:
    """People also give up because time ran out; what was said before still stands."""
    case = judged(reviewer)
    answer(case, WASH, faults=[WARP])
    if earlier:
        record_outcome(case, result=earlier, remedy=WASH if earlier == "worked" else "")

    record_outcome(case, result="gave_up")

    assert (only_lesson().basis, only_lesson().remedies) == ("confirmed", remedies)
