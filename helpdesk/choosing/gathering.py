"""What is known of every case that could be shown, gathered in a fixed number of queries.

A case could be shown when a reviewer confirmed its fault or the desk is sure enough of one, unless
it was erased or joined to another. What keeps it from the show whatever people wish stands in
`bars`.
"""

import datetime
import functools
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import OuterRef, Prefetch, Q, QuerySet, Subquery

from helpdesk.answers.models import Answer
from helpdesk.cases.models import Appearance, Case
from helpdesk.choosing.reasons import Facts, History, Picture
from helpdesk.core import clock
from helpdesk.diagnosis.engine import fault_info, finding_info
from helpdesk.diagnosis.errors import UnknownThingError
from helpdesk.diagnosis.models import DiagnosisRun, Verdict
from helpdesk.episodes.lengths import count_spoken
from helpdesk.episodes.points import suggest_points
from helpdesk.episodes.selectors import list_missing
from helpdesk.episodes.services import CASE_FIXED_S
from helpdesk.episodes.spoken import list_cautions
from helpdesk.episodes.timing import count_words, planned_seconds
from helpdesk.photos.models import Photo, PhotoState
from helpdesk.supply.selectors import blocks_of

SURE = 0.6  # "likely" in the desk's words; below, a suspicion is not for the show
RECENT = 4  # episodes looked back on for variety [judgement: desk, 2026-11]
VISIBLE = ("part", "machine")  # kinds of finding a camera can show
DECIBANS_PER_BIT = 3.0102999566398  # 10 log10(2)
DAY = datetime.timedelta(days=1)
MOST_COUNTED = 4096  # cases whose words are kept counted


@dataclass(frozen=True)
class Found:
    """A case with what is known of it; `people` are ids, `bars` sentences, both may be empty."""

    case: Case
    facts: Facts
    people: frozenset[int]
    bars: tuple[str, ...]
    lacks: tuple[str, ...]  # what should be there, and keeps nothing from being shown
    run: DiagnosisRun | None = field(repr=False)

    @property
    def is_cured(self) -> bool:
        """Return True when the person last said that it worked."""
        return self.facts.results[-1:] == ["worked"]


def gather(*, also: Collection[int] = ()) -> list[Found]:
    """Return the cases that could be shown, and those asked for besides, by number."""
    cases = list(_list_cases(also))
    runs = DiagnosisRun.objects.in_bulk([c.latest_run for c in cases if c.latest_run])  # type: ignore[attr-defined]
    blocks = blocks_of(case.pk for case in cases)
    return [_look_at(case, blocks[case.pk], runs.get(case.latest_run)) for case in cases]  # type: ignore[attr-defined]


def gather_history(*, before: int | None) -> History:
    """Return what the last episodes before a number had, or the last of all."""
    shown = Appearance.objects.all()
    if before is not None:
        shown = shown.filter(episode_number__lt=before)
    numbers = list(
        shown.order_by("-episode_number").values_list("episode_number", flat=True).distinct()
    )[:RECENT]
    seen: set[tuple[int, tuple[str, str]]] = set()
    rows = shown.filter(episode_number__in=numbers).select_related("case")
    for row in rows.prefetch_related("case__verdicts"):
        faults = _fault_ids(row.case)
        traits = traits_of(row.case, faults, machine="")
        seen |= {(row.episode_number, trait) for trait in traits}
    return History(episodes=len(numbers), counts=Counter(trait for _, trait in seen))


def estimate_s(found: Found, *, words_per_minute: int, least_s: int) -> int:
    """Return how long a case takes that stands on no sheet: as long as a sheet would give it.

    `least_s` is what a case takes at least.
    """
    spoken_s = planned_seconds(_count_words(found), words_per_minute, CASE_FIXED_S)
    return max(spoken_s, least_s)


def traits_of(case: Case, faults: Iterable[str], *, machine: str) -> frozenset[tuple[str, str]]:
    """Return families of fault, process and machine as pairs of dimension and value."""
    infos = []
    for fault in faults:
        try:
            infos.append(fault_info(fault))
        except UnknownThingError:  # the knowledge has moved on
            continue
    traits = {("family", info.family) for info in infos}
    process = case.process or next((i.process for i in infos if i.process != "any"), "")
    kind = " ".join((machine or case.machine).casefold().split())
    if process:
        traits.add(("process", process))
    if kind:
        traits.add(("machine", kind))
    return frozenset(traits)


def _list_cases(also: Collection[int]) -> QuerySet[Case]:
    """Return the cases with everything a look at them needs."""
    latest = DiagnosisRun.objects.filter(case=OuterRef("pk")).order_by("-made_at", "-pk")
    could = Q(verdicts__isnull=False) | Q(top_probability__gte=SURE)
    is_whole = Q(erased_at__isnull=True, joined_to__isnull=True)
    # A join on verdicts would give a case once for each: hence the numbers first.
    numbers = Case.objects.filter((could & is_whole) | Q(pk__in=also)).values("pk")
    return (
        Case.objects.filter(pk__in=numbers)
        .annotate(latest_run=Subquery(latest.values("pk")[:1]))
        .select_related("candidacy")
        .prefetch_related(
            Prefetch("photos", queryset=Photo.objects.filter(state=PhotoState.READY)),
            Prefetch(
                "answers",
                queryset=Answer.objects.filter(sent_at__isnull=False).order_by("sent_at"),
            ),
            Prefetch("verdicts", queryset=Verdict.objects.order_by("position", "pk")),
            "consents",
            "parts",
            "joined__parts",
            "outcomes",
            "appearances",
        )
        .order_by("pk")
    )


def _look_at(case: Case, blocks: Sequence[str], run: DiagnosisRun | None) -> Found:
    """Return what is known of one case."""
    people = (part.person_id for each in (case, *case.joined.all()) for part in each.parts.all())
    missing = list_missing(case, blocks=blocks)
    bars = [each.text for each in missing if each.is_blocking]
    if case.joined_to_id:
        bars.append("It is shown with the case it was joined to.")
    return Found(
        case=case,
        facts=_facts(case, run),
        people=frozenset(people),
        bars=tuple(bars),
        lacks=tuple(each.text for each in missing if not each.is_blocking),
        run=run,
    )


def _facts(case: Case, run: DiagnosisRun | None) -> Facts:
    """Return what reasons are weighed from."""
    verdicts = list(case.verdicts.all())
    faults = _fault_ids(case)
    seen, whole = _read_bits(run, faults[0] if faults else "")
    candidacy = getattr(case, "candidacy", None)
    answered = next((a.sent_at for a in case.answers.all() if a.sent_at), None)
    shown = [appearance.on_date for appearance in case.appearances.all()]
    return Facts(
        fault_name=verdicts[0].fault_name if verdicts else case.top_fault_name,
        faults=faults,
        is_confirmed=bool(verdicts),
        traits=traits_of(case, faults, machine=run.result.get("machine", "") if run else ""),
        bits_seen=seen,
        bits_all=whole,
        pictures=[Picture(p.width * p.height, bool(p.alt_text)) for p in case.photos.all()],
        last_shown=max(shown, default=None),
        waited_days=((answered or clock.now()) - case.opened_at) / DAY,
        is_answered=answered is not None,
        results=[outcome.result for outcome in case.outcomes.all()],
        is_surprise=any(v.desk_place != 1 for v in verdicts[:1]),
        mark=candidacy.why if candidacy else None,
    )


def _fault_ids(case: Case) -> list[str]:
    """Return the confirmed faults, or the one the desk believes in."""
    verdicts = sorted(case.verdicts.all(), key=lambda v: (v.position, v.pk))
    return [v.fault for v in verdicts] or ([case.top_fault] if case.top_fault else [])


def _read_bits(run: DiagnosisRun | None, fault: str) -> tuple[float | None, float | None]:
    """Return the bits by which visible findings moved belief in a fault, and by which all did."""
    suspects: Sequence[Mapping[str, Any]] = run.result["suspects"] if run else ()
    entry = next((s for s in suspects if s["fault"] == fault), None)
    if entry is None:
        return None, None
    looks = (reason for reason in entry["reasons"] if reason["kind"] == "finding")
    seen: float = sum(look["decibans"] for look in looks if _is_visible(look["finding"]))
    # Certainty has no decibans, and runs of an earlier shape hold none.
    prior, posterior = entry.get("prior_decibans"), entry.get("posterior_decibans")
    if prior is None or posterior is None:
        return seen / DECIBANS_PER_BIT, None
    return seen / DECIBANS_PER_BIT, (posterior - prior) / DECIBANS_PER_BIT


def _is_visible(finding: str) -> bool:
    """Return True for a finding that a picture can show."""
    try:
        return finding_info(finding).kind in VISIBLE
    except UnknownThingError:
        return False


def _count_words(found: Found) -> int:
    """Return the words a sheet would plan for a case: of the points it would have, and cautions."""
    case = found.case
    state = (case.version, case.opened_at, found.run.pk if found.run else 0, *found.facts.faults)
    return _count_words_at(case.pk, (*state, len(case.answers.all())))


@functools.lru_cache(maxsize=MOST_COUNTED)
def _count_words_at(case_id: int, state: tuple[object, ...]) -> int:
    """Return the words of a case, counted once for each `state` it is in."""
    case = Case.objects.get(pk=case_id)
    _, points = count_spoken("", "\n".join(suggest_points(case)))
    return points + sum(count_words(text) for text in list_cautions([case])[case_id])
