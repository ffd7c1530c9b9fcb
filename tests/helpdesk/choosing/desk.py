"""A small desk to choose from: cases that may be shown, and an episode."""

import datetime
from typing import Any

from helpdesk.accounts.models import User
from helpdesk.answers.models import Answer
from helpdesk.cases.models import Case, Outcome
from helpdesk.cases.services import Consent
from helpdesk.core import clock
from helpdesk.diagnosis.models import Verdict
from helpdesk.episodes.models import Episode, Segment
from helpdesk.episodes.services import add_case, change_segment, make_episode
from tests.factories import make_case

START = datetime.datetime(2026, 11, 26, 20, 0, tzinfo=datetime.UTC)
FAULTS = ("belt-loose", "heat-creep", "walls-too-thin", "plate-not-clean", "filament-wet")


def make_show(number: int = 38, **values: Any) -> Episode:
    """Make an episode of twenty minutes with the frame of a show."""
    defaults: dict[str, Any] = {
        "title": "Knocks",
        "starts_at": START,
        "slot_s": 1200,
        "words_per_minute": 175,
    }
    return make_episode(number=number, **(defaults | values))


def make_showable(
    fault: str = "belt-loose", *, is_answered: bool = True, is_cured: bool = False, **values: Any
) -> Case:
    """Open a case whose fault is confirmed, that is answered, and whose photos may be shown."""
    name = values.pop("person_name", f"Person of {fault}")
    agreed = values.pop("consent", Consent(may_show_photos=True))
    number = Case.objects.count()
    case = make_case(
        consent=agreed, person_name=name, email=f"person{number}@tarnstreet.example", **values
    )
    now = clock.now()
    Verdict.objects.create(case=case, fault=fault, fault_name=fault, desk_place=1, set_at=now)
    if is_answered:
        Answer.objects.create(case=case, body="Tighten it.", edited_at=now, sent_at=now)
    if is_cured:
        Outcome.objects.create(case=case, result="worked", said_by="them", said_at=now)
    return case


def make_showables(count: int = 5) -> list[Case]:
    """Open cases of different families of fault."""
    return [make_showable(FAULTS[n % len(FAULTS)]) for n in range(count)]


def put_by_hand(episode: Episode, case: Case, actor: User, **values: Any) -> Segment:
    """Put a case on the sheet as a producer does, and change its part."""
    segment = add_case(episode, case, actor=actor)
    return change_segment(segment, values) if values else segment
