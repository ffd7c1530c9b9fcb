"""Learn from the desk's cases, and put a revision in force. Permissions: run the desk."""

import hashlib
import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.cases.services import DESK
from helpdesk.core import clock
from helpdesk.core.jobs import retry_failed, start_job
from helpdesk.core.models import Job, JobState
from helpdesk.diagnosis.engine import LessonInput, knowledge_version, learn_from
from helpdesk.diagnosis.models import KnowledgeRevision, RevisionSwitch
from helpdesk.learning.errors import InForceError, NothingToLearnError
from helpdesk.learning.lessons import list_lessons
from helpdesk.learning.selectors import (
    LEARNING,
    find_in_force,
    find_newest,
)


def ask_to_learn(actor: User, *, note: str = "") -> Job:
    """Let a worker make the next revision; asking twice before it is made is asking once.

    Raises NothingToLearnError when no case has a verdict, or nothing is new.
    """
    lessons = list_lessons()
    if not lessons:
        raise NothingToLearnError("No case has a verdict yet, so there is nothing to learn from.")
    newest = find_newest()
    if newest and _knows_all(newest, lessons):
        raise NothingToLearnError(
            f"Revision {newest.number} was learned from exactly these cases and this expert "
            "knowledge. There is nothing new to learn."
        )
    number = newest.number + 1 if newest else 1
    with transaction.atomic():
        job = start_job(
            LEARNING,
            key=f"{LEARNING}:{number}",
            payload={"number": number, "by": actor.pk, "note": note},
        )
        if job.state == JobState.FAILED:
            retry_failed(job)
    return job


def make_revision(number: int, *, by: User | None = None, note: str = "") -> KnowledgeRevision:
    """Learn from all lessons and keep the result under a number; safe to run twice.

    It is not in force by that: somebody has to look at it and decide.
    """
    known = KnowledgeRevision.objects.filter(number=number).first()
    if known:
        return known
    lessons = list_lessons()
    learned = learn_from(lessons)  # outside the transaction, which would hold the write lock
    with transaction.atomic():
        return KnowledgeRevision.objects.create(
            number=number,
            parent=find_in_force(),
            made_at=clock.now(),
            made_by=by,
            made_by_name=by.short_name if by else DESK,
            expert_version=learned.expert_version,
            version=learned.version,
            counts=learned.counts,
            digest=_digest(learned.counts),
            lesson_count=learned.lesson_count,
            bases=Counter(lesson.basis for lesson in lessons),
            lessons_digest=_digest_lessons(lessons),
            prequential=learned.prequential,
            missing_links=learned.missing_links,
            note=note,
        )


@transaction.atomic
def put_in_force(revision: KnowledgeRevision | None, *, actor: User, why: str) -> RevisionSwitch:
    """Let every further look at a case use a revision, or the expert's numbers alone (None).

    Raises InForceError when these numbers are in force already.
    """
    if find_in_force() == revision:
        name = f"Revision {revision.number} is" if revision else "The expert’s numbers are"
        raise InForceError(f"{name} in force already.")
    return RevisionSwitch.objects.create(
        revision=revision, at=clock.now(), by=actor, by_name=actor.short_name, why=why
    )


def _knows_all(newest: KnowledgeRevision, lessons: Sequence[LessonInput]) -> bool:
    """Return True when learning now would make the newest revision again."""
    same_expert = newest.expert_version == knowledge_version()
    return same_expert and newest.lessons_digest == _digest_lessons(lessons)


def _digest_lessons(lessons: Sequence[LessonInput]) -> str:
    """Return a digest that differs as soon as one lesson does."""
    return _digest([asdict(lesson) for lesson in lessons])


def _digest(value: Any) -> str:
    """Return the SHA-256 of plain values."""
    packed = json.dumps(value, sort_keys=True, separators=(",", ":")).encode()
    return hashlib.sha256(packed).hexdigest()
