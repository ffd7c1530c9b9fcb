"""Load the demo by replaying it through the desk's own services, at the times it happened."""

import concurrent.futures
import datetime
import logging
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from io import BytesIO

from django.core.files.base import File
from django.db import transaction

from fixtures_demo.render import describe, photo_bytes
from helpdesk.accounts.models import User
from helpdesk.accounts.roles import make_roles
from helpdesk.cases.models import Case, Report
from helpdesk.cases.services import Consent, NewReport, open_case
from helpdesk.config.celery import app as celery_app
from helpdesk.conversation.models import SetText
from helpdesk.conversation.services import make_text
from helpdesk.core import clock
from helpdesk.core.jobs import run_due_jobs
from helpdesk.demo.accounts import make_person
from helpdesk.demo.data import (
    DemoCase,
    DemoPhoto,
    read_cases,
    read_episodes,
    read_people,
    read_texts,
)
from helpdesk.demo.makers import load_sayings, load_subjects
from helpdesk.demo.shows import load_show, load_supporters
from helpdesk.demo.steps import do_step
from helpdesk.episodes.models import Episode
from helpdesk.learning.lessons import count_judged_cases
from helpdesk.learning.services import make_revision
from helpdesk.photos.services import receive_photo

LEARNED = datetime.timedelta(hours=3)  # before the moment of loading
LEARNED_NOTE = "The first look at what our own cases teach."
Tell = Callable[[str], None]
PhotoKey = tuple[str, str, str, int]


def load_demo(tell: Tell) -> None:
    """Bring the demo into the database; what is there already is left as it is."""
    logging.getLogger("celery").setLevel(logging.WARNING)  # it tells of every single job
    logging.getLogger("kombu").setLevel(logging.ERROR)
    now = clock.now()
    make_roles()
    people = read_people()
    for person in people:
        make_person(person)
    _load_texts()
    load_subjects(now)
    known = set(
        Report.objects.filter(submission_key__startswith="demo:").values_list(
            "submission_key", flat=True
        )
    )
    cases = [c for c in read_cases() if f"demo:{c.key}" not in known]
    cases.sort(key=lambda c: c.opened_at(now))
    # Hints to a worker would only be in the way: every job is done here, at its own time.
    was_eager = celery_app.conf.task_always_eager
    celery_app.conf.task_always_eager = True
    try:
        for number, (case, pictures) in enumerate(_with_pictures(cases), 1):
            _load_case(case, pictures, now)
            if number % 10 == 0:
                tell(f"{number} of {len(cases)} cases are in")
        for episode in read_episodes():
            load_show(episode, now)
        load_supporters()
        load_sayings(now)
        run_due_jobs()
        _learn(now)
    finally:
        celery_app.conf.task_always_eager = was_eager
    tell(f"{Case.objects.count()} cases, {Episode.objects.count()} episodes")


def _load_texts() -> None:
    """Write the recurring texts that are not there yet."""
    known = set(SetText.objects.values_list("title", flat=True))
    for text in read_texts():
        if text["title"] not in known:
            make_text(**text, actor=None)


def _with_pictures(
    cases: Sequence[DemoCase],
) -> Iterator[tuple[DemoCase, Mapping[PhotoKey, bytes]]]:
    """Yield each case with its photos, rendered ahead on the other cores."""
    with concurrent.futures.ProcessPoolExecutor(max_workers=max(1, os.cpu_count() or 1)) as pool:
        waiting = [
            (case, {_key(p): pool.submit(_render, *_key(p)) for p in case.photos}) for case in cases
        ]
        for case, futures in waiting:
            yield case, {key: future.result() for key, future in futures.items()}


def _key(photo: DemoPhoto) -> PhotoKey:
    """Return what a photo is rendered from."""
    return photo.scene, photo.view, photo.color, photo.seed


def _render(scene: str, view: str, color: str, seed: int) -> bytes:
    """Return a photo as a phone would send it, with a made-up place in it."""
    return photo_bytes(scene, seed=seed, view=view, color=color, exif_place=True)


@transaction.atomic
def _load_case(demo: DemoCase, pictures: Mapping[PhotoKey, bytes], now: datetime.datetime) -> None:
    """Open one case and let everything happen to it that happened."""
    opened_at = demo.opened_at(now)
    with clock.standing_at(opened_at):
        case, _ = open_case(_report(demo))
        for number, photo in enumerate(demo.photos, 1):
            receive_photo(
                File(BytesIO(pictures[_key(photo)])),
                label=f"photo-{number}.jpg",
                case=case,
                alt_text=photo.alt or describe(photo.scene, photo.view, photo.color),
            )
        run_due_jobs()
    latest = now - datetime.timedelta(minutes=5)
    for what in demo.steps:
        at = min(opened_at + datetime.timedelta(hours=what.after_h), latest)
        with clock.standing_at(at):
            do_step(case, what)
            run_due_jobs()


def _report(demo: DemoCase) -> NewReport:
    """Return a demo case as its channel handed it over."""
    agreed = demo.consent
    consent = Consent(
        may_publish_answer=agreed.get("answer", False),
        may_show_photos=agreed.get("photos", False),
        credit_kind=agreed.get("credit", "anonymous"),
        credit_as=agreed.get("as", ""),
        is_under_16=agreed.get("under_16", False),
        guardian_agreed=agreed.get("guardian", False),
    )
    return NewReport(
        story=demo.story.strip(),
        submission_key=f"demo:{demo.key}",
        channel=demo.channel,
        title=demo.title,
        facts=dict(demo.facts),
        facts_as_sent={k: str(v) for k, v in demo.facts.items()},
        person_name=demo.person,
        reply_channel=demo.reply_channel,
        email=demo.email,
        handle=demo.handle,
        handle_where=demo.handle_where,
        is_own_print=demo.own,
        owner_name=demo.owner,
        owner_link=demo.owner_link,
        consent=consent,
    )


def _learn(now: datetime.datetime) -> None:
    """Make the first revision of what the demo's cases teach; nobody has put it in force."""
    runner = User.objects.filter(groups__name="admin").first()
    if count_judged_cases():
        with clock.standing_at(now - LEARNED):
            make_revision(1, by=runner, note=LEARNED_NOTE)
