"""Reading which cases wait for a second look, and how far judgements agree."""

import datetime
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from django.db.models import Exists, F, OuterRef, QuerySet
from django.utils import timezone

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case, CaseState, Event, Report
from helpdesk.cases.services import title_from
from helpdesk.core import clock
from helpdesk.diagnosis.engine import FindingInfo, finding_info, list_faults
from helpdesk.diagnosis.engine.statistics import (
    PairAgreement,
    Share,
    group_kappa,
    pair_agreement,
    share_of,
)
from helpdesk.diagnosis.errors import UnknownThingError
from helpdesk.diagnosis.models import DiagnosisRun, FindingState, MarkSource, Opinion, Verdict
from helpdesk.diagnosis.opinions import EVENT
from helpdesk.photos.models import Photo
from helpdesk.photos.selectors import list_photos

# One closed case in so many is looked at twice: enough to see a drift in a few months, little
# enough to be done [judgement: desk, 2026-11-25]
EVERY = 5
LOOK_BACK = datetime.timedelta(days=90)  # older cases are not sampled [judgement: desk, 2026-11-25]
MOST_LISTED = 25
MOST_MONTHS = 12
# Cases from which a figure is shown without a warning, and from which at all.
# [judgement: desk, 2026-11-25]
ENOUGH, FEW = 30, 10
UNITS = {"_mm_s": "mm/s", "_mm": "mm", "_c": "°C"}


@dataclass(frozen=True)
class WaitingLook:
    """A case that waits for a second look: nothing of it but its report's first words."""

    case: Case
    words: str
    is_asked: bool
    is_begun: bool


@dataclass(frozen=True)
class BlindReport:
    """What of a case a second look may see: the report, and what the person answered."""

    story: str
    facts: Mapping[str, str]
    photos: Sequence[Photo]
    answers: Sequence[tuple[FindingInfo, str]]


@dataclass(frozen=True)
class Pair:
    """Two reviewers, by name in the alphabet's order, and how far they agree."""

    names: tuple[str, str]
    agreement: PairAgreement

    @property
    def is_telling(self) -> bool:
        """Return True when there are cases enough for a kappa to say something."""
        return self.agreement.observed.trials >= FEW

    @property
    def caution(self) -> str:
        """Return what the number of cases allows to say."""
        return say_few(self.agreement.observed.trials)


@dataclass(frozen=True)
class Group:
    """All reviewers together, on cases that two of them judged."""

    count: int
    kappa: float | None


@dataclass(frozen=True)
class Month:
    """How often the engine had the main fault of a month's verdicts first, and among three."""

    start: datetime.date
    first: Share
    among: Share

    @property
    def caution(self) -> str:
        """Return what the number of cases allows to say."""
        return say_few(self.first.trials)


def say_few(count: int) -> str:
    """Return a warning for figures of few cases, "" for enough."""
    if count < FEW:
        return "Too few to say anything."
    return "Few; take it as a hint." if count < ENOUGH else ""


def list_waiting_looks(user: User) -> list[WaitingLook]:
    """Return the cases a reviewer may look at blind, those asked for first, then the newest."""
    # Two queries, each along its own index: a joint one would read every case there is.
    asked = _unknown_to(user, Case.objects.filter(second_look__isnull=False))
    found = list(asked.order_by("second_look__asked_at", "pk")[:MOST_LISTED])
    asked_ids = {case.pk for case in found}
    found += _unknown_to(user, _sampled_cases()).order_by("-closed_at", "-pk")[:MOST_LISTED]
    found = list(dict.fromkeys(found))[:MOST_LISTED]
    stories = _first_stories(found)
    begun = set(
        Opinion.objects.filter(case__in=found, reviewer=user).values_list("case", flat=True)
    )
    return [
        WaitingLook(
            case=case,
            words=title_from(stories.get(case.pk, "")),
            is_asked=case.pk in asked_ids,
            is_begun=case.pk in begun,
        )
        for case in found
    ]


def get_blind_report(case: Case) -> BlindReport:
    """Return what a second look may see; titles, marks and later photos may give it away."""
    first = case.reports.order_by("received_at", "pk").first()
    marks = case.finding_marks.filter(source=MarkSource.PERSON).exclude(state=FindingState.UNKNOWN)
    answers = []
    for mark in marks.order_by("set_at", "pk"):
        try:
            answers.append((finding_info(mark.finding), mark.get_state_display()))
        except UnknownThingError:  # the knowledge has moved on
            continue
    return BlindReport(
        story=first.story if first else "",
        facts={
            _label(name): str(words)
            for name, words in (first.facts if first else {}).items()
            if name != "title"
        },
        photos=[photo for photo in list_photos(case) if not photo.from_follow_up],
        answers=answers,
    )


def list_closed_opinions(case: Case) -> QuerySet[Opinion]:
    """Return the opinions on a case that may be shown, oldest first."""
    return case.opinions.filter(closed_at__isnull=False).order_by("closed_at", "pk")


def list_judgements() -> list[dict[int, str]]:
    """Return for each case with a closed opinion the main fault each reviewer named, by user id.

    The verdict counts as the judgement of who set it, as it stood when the first opinion was
    closed: a later one may have been set after reading that opinion. An opinion outweighs a
    verdict of the same person, for it was blind.
    """
    closed = Opinion.objects.filter(closed_at__isnull=False, reviewer__isnull=False)
    by_case: dict[int, list[Opinion]] = defaultdict(list)
    for opinion in closed.order_by("closed_at", "pk"):
        by_case[opinion.case_id].append(opinion)
    verdicts = Event.objects.filter(kind="verdict", case__in=by_case, actor__isnull=False)
    standing: dict[int, tuple[int, str]] = {}
    for event in verdicts.order_by("at", "pk"):
        faults = event.data.get("faults")
        if event.at <= (by_case[event.case_id][0].closed_at or event.at):
            standing.pop(event.case_id, None)
            if faults and event.actor_id is not None:
                standing[event.case_id] = (event.actor_id, faults[0])
    judged = []
    for case_id, opinions in by_case.items():
        named = dict([standing[case_id]]) if case_id in standing else {}
        named |= {o.reviewer_id: o.faults[0]["fault"] for o in opinions if o.reviewer_id}
        judged.append(named)
    return judged


def list_pairs(judged: Iterable[Mapping[int, str]]) -> list[Pair]:
    """Return how far each two reviewers agree who have judged the same cases, by name."""
    shared: dict[tuple[int, int], list[tuple[str, str]]] = defaultdict(list)
    for named in judged:
        for one, other in combinations(sorted(named), 2):
            shared[one, other].append((named[one], named[other]))
    people = User.objects.in_bulk({user for pair in shared for user in pair})
    classes = [info.id for info in list_faults()]
    pairs = []
    for ids, faults in shared.items():
        names = sorted((people[user].short_name for user in ids), key=str.casefold)
        first, second = zip(*faults, strict=True)
        pairs.append(Pair((names[0], names[1]), pair_agreement(first, second, classes)))
    return sorted(pairs, key=lambda pair: [name.casefold() for name in pair.names])


def find_group(judged: Iterable[Mapping[int, str]]) -> Group | None:
    """Return the agreement of all reviewers on cases two of them judged, None for too few."""
    ratings = [list(named.values()) for named in judged if len(named) == 2]
    return Group(len(ratings), group_kappa(ratings)) if len(ratings) >= FEW else None


def list_months() -> list[Month]:
    """Return how the engine stood before the verdicts of each of the last months, oldest first."""
    ran = DiagnosisRun.objects.filter(case=OuterRef("case"), made_at__lte=OuterRef("set_at"))
    main = Verdict.objects.filter(Exists(ran), position=0)
    places: dict[datetime.date, list[int | None]] = defaultdict(list)
    since = clock.now() - datetime.timedelta(days=31 * MOST_MONTHS)
    for at, place in main.filter(set_at__gte=since).values_list("set_at", "desk_place"):
        places[timezone.localtime(at).date().replace(day=1)].append(place)
    return [
        Month(start, _share(found, 1), _share(found, 3))
        for start, found in sorted(places.items())[-MOST_MONTHS:]
    ]


def _label(name: str) -> str:
    """Return the name of a fact as people read it, with its unit."""
    for ending, unit in UNITS.items():
        if name.endswith(ending):
            return f"{name.removesuffix(ending).replace('_', ' ')}, {unit}"
    return name.replace("_", " ")


def _share(places: Sequence[int | None], first: int) -> Share:
    """Return how many of the places are among the first so many."""
    return share_of(sum(place is not None and place <= first for place in places), len(places))


def _sampled_cases() -> QuerySet[Case]:
    """Return each so many-th of the cases closed lately with a verdict."""
    judged = Verdict.objects.filter(case=OuterRef("pk"))
    lately = Case.objects.filter(closed_at__gte=clock.now() - LOOK_BACK, state=CaseState.CLOSED)
    return lately.annotate(rest=F("pk") % EVERY).filter(Exists(judged), rest=0)


def _unknown_to(user: User, cases: QuerySet[Case]) -> QuerySet[Case]:
    """Return those of the cases a reviewer does not know and nobody has looked at twice."""
    done = Opinion.objects.filter(case=OuterRef("pk"), closed_at__isnull=False)
    touched = Event.objects.filter(case=OuterRef("pk"), actor=user).exclude(kind=EVENT)
    unknown = cases.filter(~Exists(done), ~Exists(touched), erased_at__isnull=True)
    return unknown.exclude(assigned_to=user)


def _first_stories(cases: Sequence[Case]) -> dict[int, str]:
    """Return the words of each case's first report."""
    stories: dict[int, str] = {}
    reports = Report.objects.filter(case__in=cases).order_by("received_at", "pk")
    for case_id, story in reports.values_list("case_id", "story"):
        stories.setdefault(case_id, story)
    return stories
