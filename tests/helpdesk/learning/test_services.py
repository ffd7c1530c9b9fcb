"""Revisions: made in the background, kept for ever, in force only by hand."""

import json
from typing import Any

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.test.utils import CaptureQueriesContext

from helpdesk.accounts.models import User
from helpdesk.cases.services import record_outcome
from helpdesk.core.jobs import MAX_ATTEMPTS, run_due_jobs, run_job
from helpdesk.core.models import Job, JobState
from helpdesk.diagnosis.engine import EngineInput, knowledge_version, run_engine
from helpdesk.diagnosis.errors import WrittenOnceError
from helpdesk.diagnosis.models import DiagnosisRun, KnowledgeRevision, RevisionSwitch, Verdict
from helpdesk.diagnosis.services import diagnose_case, set_verdict
from helpdesk.learning import services
from helpdesk.learning.errors import InForceError, NothingToLearnError
from helpdesk.learning.selectors import (
    find_in_force,
    find_newest,
    get_comparison,
    get_overview,
    get_revision_page,
    list_revisions,
)
from helpdesk.learning.services import ask_to_learn, make_revision, put_in_force
from tests.helpdesk.learning.cases import OTHER_FAULT, STORY, WARP, judged, settled

pytestmark = pytest.mark.django_db
CURL = "The corners of my box curl up from the plate after an hour."


def chance_of(fault: str) -> float:
    """Return what the engine thinks of a fault now."""
    given = EngineInput(text=CURL, story_length=len(CURL), process="MEX", material="PLA")
    chances: dict[str, float] = {row[0]: row[2] for row in run_engine(given).data["ranking"]}
    return chances.get(fault, 0.0)


def test_learning_is_a_job_and_not_in_force_by_itself(reviewer: User, desk_admin: User) -> None:
    """A worker makes the revision; what the engine thinks stays until somebody decides."""
    settled(reviewer, 3)
    before = chance_of(WARP)

    job = ask_to_learn(desk_admin, note="After the summer")
    assert find_newest() is None
    run_due_jobs()

    job.refresh_from_db()
    assert job.state == JobState.DONE
    made = find_newest()
    assert made is not None
    assert (made.number, made.made_by, made.note) == (1, desk_admin, "After the summer")
    assert (made.lesson_count, made.bases) == (3, {"cured": 3})
    assert made.expert_version == knowledge_version() != made.version
    assert find_in_force() is None
    assert chance_of(WARP) == before


def test_asking_twice_makes_one_revision(reviewer: User, desk_admin: User) -> None:
    """Two presses before the worker comes are one job; a job done twice is one revision."""
    settled(reviewer)

    first, second = ask_to_learn(desk_admin), ask_to_learn(desk_admin)
    run_due_jobs()
    make_revision(1, by=desk_admin)

    assert first == second
    assert KnowledgeRevision.objects.count() == 1


def test_nothing_to_learn_is_said(reviewer: User, desk_admin: User) -> None:
    """Without a verdict, and without anything new, no job is started."""
    with pytest.raises(NothingToLearnError, match="No case has a verdict"):
        ask_to_learn(desk_admin)
    (case,) = settled(reviewer)
    make_revision(1, by=desk_admin)
    with pytest.raises(NothingToLearnError, match="Revision 1 was learned from exactly these"):
        ask_to_learn(desk_admin)
    assert not Job.objects.filter(kind="learn-revision").exists()

    record_outcome(case, result="failed")

    assert ask_to_learn(desk_admin).payload["number"] == 2


def test_changed_expert_knowledge_marks_revisions_and_can_be_learned(
    reviewer: User, desk_admin: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same cases teach anew once the experts have written something else."""
    settled(reviewer)
    make_revision(1)
    assert [row.is_outdated for row in list_revisions()] == [False]

    KnowledgeRevision.objects.update(expert_version="older")

    assert [row.is_outdated for row in list_revisions()] == [True]
    assert ask_to_learn(desk_admin).payload["number"] == 2


def test_counts_of_what_the_knowledge_lost_are_passed_over(
    reviewer: User, desk_admin: User
) -> None:
    """A revision that names things gone since still works with the rest, and says so."""
    settled(reviewer, 2)
    made = make_revision(1)
    counts = json.loads(json.dumps(made.counts))
    counts["tallies"]["prior fault-of-old"] = [3.0, 0.0]
    KnowledgeRevision.objects.update(counts=counts, digest="other")
    put_in_force(KnowledgeRevision.objects.get(), actor=desk_admin, why="Try")

    assert chance_of(WARP) > 0
    page = get_revision_page(KnowledgeRevision.objects.get())
    assert any("fault-of-old" in words for words in page.skipped)


def test_job_given_up_is_tried_again(
    reviewer: User, desk_admin: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A failure is told on the page, and pressing the button again gives it another chance."""
    settled(reviewer)
    job = ask_to_learn(desk_admin)

    def fail(lessons: Any) -> Any:
        raise ValueError("Out of paper")

    with monkeypatch.context() as patched:
        patched.setattr(services, "learn_from", fail)
        Job.objects.filter(pk=job.pk).update(attempts=MAX_ATTEMPTS - 1)
        run_job(job.pk)
    assert "Out of paper" in get_overview().trouble
    assert not get_overview().is_learning

    ask_to_learn(desk_admin)
    run_due_jobs()

    assert KnowledgeRevision.objects.count() == 1
    assert get_overview().trouble == ""


def test_revision_in_force_moves_the_next_run_and_rolling_back_restores_it(
    reviewer: User, desk_admin: User
) -> None:
    """Learned numbers speak from the next run on; the expert's come back to the last digit."""
    settled(reviewer, 6)
    expert = chance_of(WARP)
    made = make_revision(1)

    put_in_force(made, actor=desk_admin, why="Foresees better")
    learned = chance_of(WARP)
    put_in_force(None, actor=desk_admin, why="A mistake")

    assert learned > expert
    assert chance_of(WARP) == expert
    assert [s.revision_id for s in RevisionSwitch.objects.all()] == [made.pk, None]


def test_stored_run_names_its_numbers(reviewer: User, desk_admin: User) -> None:
    """A run keeps the version and the revision; a switch makes a new run of the same case."""
    case = settled(reviewer, 2)[0]
    made = make_revision(1)
    put_in_force(made, actor=desk_admin, why="Try")

    diagnose_case(case.pk, cause="again")

    runs = list(DiagnosisRun.objects.filter(case=case).order_by("pk"))
    assert (runs[0].revision, runs[0].knowledge_version) == (None, knowledge_version())
    assert (runs[-1].revision, runs[-1].knowledge_version) == (1, made.version)


def test_run_asks_once_which_numbers_are_in_force(reviewer: User, desk_admin: User) -> None:
    """One short query a run, whether the engine is kept already or not."""
    settled(reviewer)
    put_in_force(make_revision(1), actor=desk_admin, why="Try")
    chance_of(WARP)

    with CaptureQueriesContext(
        connection,
    ) as caught:
        chance_of(WARP)

    assert len(caught) == 1
    assert "revisionswitch" in caught.captured_queries[0]["sql"]
    assert "counts" not in caught.captured_queries[0]["sql"]


def test_number_given_out_anew_is_another_revision(reviewer: User, desk_admin: User) -> None:
    """After a database was put back, revision 1 may hold other counts than a process keeps."""
    settled(reviewer, 4)
    put_in_force(make_revision(1), actor=desk_admin, why="Try")
    learned = chance_of(WARP)
    RevisionSwitch.objects.all().delete()
    KnowledgeRevision.objects.all().delete()
    for case in settled(reviewer, 4):
        set_verdict(case, [OTHER_FAULT], actor=reviewer)

    put_in_force(make_revision(1), actor=desk_admin, why="Try")

    assert chance_of(WARP) != learned


def test_same_numbers_are_not_put_in_force_twice(reviewer: User, desk_admin: User) -> None:
    """A second press, or a colleague a moment later, is told so."""
    settled(reviewer)
    made = make_revision(1)
    with pytest.raises(InForceError, match="The expert’s numbers are in force already"):
        put_in_force(None, actor=desk_admin, why="Again")
    put_in_force(made, actor=desk_admin, why="Try")

    with pytest.raises(InForceError, match="Revision 1 is in force already"):
        put_in_force(made, actor=desk_admin, why="Try")
    assert RevisionSwitch.objects.count() == 1


def test_revisions_and_switches_are_written_once(reviewer: User, desk_admin: User) -> None:
    """Neither can be changed or removed, also not the person who made them away."""
    settled(reviewer)
    made = make_revision(1, by=desk_admin)
    switch = put_in_force(made, actor=desk_admin, why="Try")

    for row in (made, switch):
        with pytest.raises(WrittenOnceError, match="kept as it was written"):
            row.save()
        with pytest.raises(WrittenOnceError, match="kept as it was written"):
            row.delete()
    name = desk_admin.short_name
    desk_admin.delete()
    assert (KnowledgeRevision.objects.get().made_by_name, find_in_force()) == (name, made)


def test_revision_holds_nothing_of_a_person(reviewer: User) -> None:
    """Counts, figures and case numbers; no name, word or address."""
    case = judged(reviewer, person_name="Bettine Halvorsen", email="bettine@tarnstreet.example")
    record_outcome(case, result="worked", words="My aunt Bettine is glad")
    made = make_revision(1)

    kept = json.dumps([made.counts, made.prequential, made.bases])

    for word in ("Bettine", "tarnstreet", "aunt", "knocking"):
        assert word not in kept


def test_comparison_names_what_moved_and_why(reviewer: User) -> None:
    """Numbers with their observations and the source the expert's came from; none with itself."""
    settled(reviewer, 5)
    made = make_revision(1)

    forth, back = get_comparison(None, made), get_comparison(made, None)

    moved = {(change.kind, change.name): change for change in forth.changes}
    prior = next(c for (kind, name), c in moved.items() if kind == "prior" and "shrink" in name)
    assert prior.after > prior.before
    assert 0 < prior.so <= prior.looks
    assert prior.source in ("memory", "common-practice", "published")
    assert {(c.kind, c.name, c.after, c.before) for c in back.changes} == {
        (c.kind, c.name, c.before, c.after) for c in forth.changes
    }
    assert get_comparison(made, made).count == 0


def test_surprises_are_the_verdicts_foreseen_worst(reviewer: User) -> None:
    """A verdict nothing spoke for stands first, with its case."""
    odd = judged(reviewer, fault="resin-under-exposed", facts={"process": "VPP"})
    settled(reviewer, 2)

    page = get_revision_page(make_revision(1))

    assert page.curve is not None
    assert page.surprises[0].case_id == odd.pk
    assert page.surprises[0].bits >= 4.0


def test_earlier_verdicts_find_their_place(reviewer: User, transactional_db: None) -> None:
    """The migration takes it from the last run before the verdict, and can be undone."""
    case = judged(reviewer, story=STORY)
    leading = case.runs.get().result["ranking"][0][0]
    set_verdict(case, [leading], actor=reviewer)
    Verdict.objects.update(desk_place=None)
    here = MigrationExecutor(connection)
    last = here.loader.graph.leaf_nodes("diagnosis")

    MigrationExecutor(connection).migrate([("diagnosis", "0003_keep_the_place_of_a_verdict")])
    MigrationExecutor(connection).migrate(last)

    assert Verdict.objects.get(case=case).desk_place == 1
