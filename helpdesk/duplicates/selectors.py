"""Finding candidates by their traces, and reading proposals."""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import F, Q, QuerySet

from helpdesk.answers.joined import Waiting, addresses_of, list_waiting
from helpdesk.cases.models import Case, MessageKind, Outcome, Report
from helpdesk.duplicates.models import Proposal, ProposalState, Trace, TraceKind
from helpdesk.duplicates.texts import find_links, mark_text, number_of, plain_link
from helpdesk.photos.models import Photo, PhotoState

MOST_CANDIDATES = 16
MOST_HOLDERS = 400  # traces read for one kind: beyond it a value is too common to tell anything
MOST_RESEMBLING = 12_000  # traces of photos read for one look
LEAST_VOTES = {TraceKind.TEXT: 2, TraceKind.DETAIL: 3}  # of fewer shared traces chance is enough
MOST_PHOTOS = 8  # of a case that are compared
RECENT_TEXTS = 400  # what the rarity of words is counted on
LISTED = 60
SHORT = 0.01  # probability is shown in steps of a hundredth


@dataclass(frozen=True)
class Candidate:
    """A case worth comparing, and which of its photos resemble which of ours."""

    case_id: int
    votes: int
    photo_pairs: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Side:
    """One case of a pair, with the photo to look at."""

    case: Case
    photo: Photo | None
    words: str


@dataclass(frozen=True)
class Pair:
    """A proposal as a page shows it."""

    proposal: Proposal
    sides: tuple[Side, Side]

    @property
    def percent(self) -> int:
        """Return the probability in hundredths; never 100, for nobody has decided yet."""
        return min(99, int(self.proposal.probability / SHORT))

    @property
    def is_grouped(self) -> bool:
        """Return True while the two are joined, whoever leads."""
        first, second = (side.case for side in self.sides)
        return (first.joined_to_id or first.pk) == (second.joined_to_id or second.pk)


@dataclass(frozen=True)
class JoinedCase:
    """A case joined to another, with what became of its person's print."""

    case: Case
    cover: Photo | None
    story: str
    outcome: Outcome | None
    waiting: Waiting | None


def list_links(case: Case) -> set[str]:
    """Return the plain links a case came by or speaks of."""
    found = {plain_link(case.owner_link)} if case.owner_link else set()
    for report in case.reports.all():
        found |= {plain_link(report.link)} if report.link else set()
        found |= find_links(report.story)
    return found - {""}


def list_person_marks(case: Case) -> set[str]:
    """Return what tells that two cases came from one person."""
    return {":".join(address) for address in addresses_of(case)}


def get_text(case: Case) -> str:
    """Return the words of a case's reports and of the replies to it."""
    stories = case.reports.order_by("received_at", "pk").values_list("story", flat=True)
    replies = case.messages.filter(kind=MessageKind.REPLY).order_by("sent_at", "pk")
    return "\n\n".join([*stories, *replies.values_list("body", flat=True)])


def list_recent_texts() -> list[str]:
    """Return the latest stories, to count on them how rare a word is."""
    latest = Report.objects.order_by("-pk").values_list("story", flat=True)
    return [story for story in latest[:RECENT_TEXTS] if story]


def list_ready_photos(case: Case) -> list[Photo]:
    """Return the photos of a case that can be compared, in order."""
    return list(case.photos.filter(state=PhotoState.READY)[:MOST_PHOTOS])


def find_candidates(
    case: Case, looked_up: Mapping[TraceKind, Collection[int]], probes: Mapping[int, Sequence[int]]
) -> list[Candidate]:
    """Return the cases that share most traces with a case, the likeliest first.

    `looked_up` holds the values by kind, `probes` those of each photo's details and whole.
    """
    votes: Counter[int] = Counter()
    for kind, values in looked_up.items():
        shared = Counter(
            Trace.objects.filter(kind=kind, value__in=list(values))
            .exclude(case=case)
            .order_by("-case_id")
            .values_list("case", flat=True)[:MOST_HOLDERS]
        )
        least = LEAST_VOTES.get(kind, 1)
        votes.update({pk: 10 * count for pk, count in shared.items() if count >= least})
    pairs: dict[int, list[tuple[int, int]]] = {}
    for photo_id, values in probes.items():
        for (case_id, other_id), count in _resembling(case, values).items():
            pairs.setdefault(case_id, []).append((photo_id, other_id))
            votes[case_id] += count
    same_group = set(_group_of(case))
    best = [pk for pk, _ in votes.most_common() if pk not in same_group][: 2 * MOST_CANDIDATES]
    alive = set(
        Case.objects.filter(pk__in=best, erased_at__isnull=True).values_list("pk", flat=True)
    )
    return [Candidate(pk, votes[pk], tuple(pairs.get(pk, ()))) for pk in best if pk in alive][
        :MOST_CANDIDATES
    ]


def _resembling(case: Case, values: Sequence[int]) -> Counter[tuple[int, int]]:
    """Return how many traces each photo of other cases shares with one photo's values."""
    rows = (
        Trace.objects.filter(kind__in=(TraceKind.WHOLE, TraceKind.DETAIL), value__in=values)
        .exclude(case=case)
        .values_list("case", "photo", "kind")[:MOST_RESEMBLING]
    )
    counts: Counter[tuple[int, int]] = Counter()
    for case_id, photo_id, kind in rows:
        if photo_id is not None:
            counts[case_id, photo_id] += (
                LEAST_VOTES[TraceKind.DETAIL] if kind == TraceKind.WHOLE else 1
            )
    least = LEAST_VOTES[TraceKind.DETAIL]
    return Counter(dict(Counter({k: n for k, n in counts.items() if n >= least}).most_common(12)))


def find_likely(
    *, text: str = "", link: str = "", address: str = "", where: str = ""
) -> list[Case]:
    """Return the cases that what somebody is about to enter may be about, the latest first.

    `address` is a mail address, or a handle with `where` it belongs; nothing is kept.
    """
    links = {plain_link(link)} | find_links(text)
    person = f"{where.strip().casefold() or 'mail'}:{address.strip().lstrip('@').casefold()}"
    wanted = Q()
    for kind, values in (
        (TraceKind.LINK, [number_of(each) for each in links if each]),
        (TraceKind.PERSON, [number_of(person)] if address.strip() else []),
        (TraceKind.TEXT, list(mark_text(text))),
    ):
        if values:
            wanted |= Q(kind=kind, value__in=values)
    if not wanted:
        return []
    counts: Counter[int] = Counter()
    rows = Trace.objects.filter(wanted).order_by("-case_id").values_list("case", "kind")
    for case_id, of_kind in rows[:MOST_HOLDERS]:
        counts[case_id] += 1 if of_kind == TraceKind.TEXT else LEAST_VOTES[TraceKind.TEXT]
    likely = [pk for pk, count in counts.items() if count >= LEAST_VOTES[TraceKind.TEXT]]
    return list(Case.objects.filter(pk__in=likely, erased_at__isnull=True).order_by("-pk")[:8])


def list_open_proposals(case: Case | None = None) -> list[Pair]:
    """Return what waits for a decision, the likeliest first; of one case, or of all."""
    found = _proposals().filter(state=ProposalState.OPEN)
    if case is not None:
        found = found.filter(Q(first=case) | Q(second=case))
    found = found.exclude(
        Q(first__joined_to=F("second"))
        | Q(second__joined_to=F("first"))
        | Q(first__joined_to=F("second__joined_to"))
    )
    return _show(found[:LISTED], seen_from=case)


def list_decided(*, limit: int = 20) -> list[Pair]:
    """Return the latest decisions, so that they can be taken back."""
    found = _proposals().exclude(state=ProposalState.OPEN).order_by("-decided_at", "-pk")
    return _show(found[:limit])


def list_joined(lead: Case) -> list[JoinedCase]:
    """Return the cases joined to a lead with photo, words and outcome, the oldest first."""
    waiting = {each.case.pk: each for each in list_waiting(lead)}
    joined = list(lead.joined.order_by("opened_at", "pk").prefetch_related("reports", "outcomes"))
    covers = _covers([case.pk for case in joined])
    return [
        JoinedCase(
            case=case,
            cover=covers.get(case.pk),
            story=_first_words(case),
            outcome=next(iter(reversed(list(case.outcomes.all()))), None),
            waiting=waiting.get(case.pk),
        )
        for case in joined
    ]


def list_unpassed(*, limit: int = LISTED) -> list[Waiting]:
    """Return the joined cases whose lead was answered and whose person was not."""
    leads = Case.objects.filter(joined__isnull=False, answers__sent_at__isnull=False)
    found = (
        each for lead in leads.distinct().order_by("-pk")[:limit] for each in list_waiting(lead)
    )
    return list(found)[:limit]


def _proposals() -> QuerySet[Proposal]:
    return Proposal.objects.filter(
        first__erased_at__isnull=True, second__erased_at__isnull=True
    ).select_related("first", "second", "first_photo", "second_photo", "decided_by")


def _show(proposals: Iterable[Proposal], *, seen_from: Case | None = None) -> list[Pair]:
    """Return proposals with both sides; the case one looks from comes first."""
    rows = list(proposals)
    cases = {case.pk for each in rows for case in (each.first, each.second)}
    covers = _covers(cases)
    words = _all_first_words(cases)
    shown = []
    for each in rows:
        sides = [
            Side(case, photo or covers.get(case.pk), words.get(case.pk, ""))
            for case, photo in ((each.first, each.first_photo), (each.second, each.second_photo))
        ]
        if seen_from is not None and each.second_id == seen_from.pk:
            sides.reverse()
        shown.append(Pair(each, (sides[0], sides[1])))
    return shown


def _covers(case_ids: Iterable[int]) -> dict[int, Photo]:
    covers: dict[int, Photo] = {}
    ready = Photo.objects.filter(case__in=list(case_ids), state=PhotoState.READY)
    for photo in ready.order_by("position", "pk"):
        covers.setdefault(photo.case_id or 0, photo)
    return covers


def _all_first_words(case_ids: Iterable[int]) -> dict[int, str]:
    words: dict[int, str] = {}
    rows = Report.objects.filter(case__in=list(case_ids)).order_by("received_at", "pk")
    for case_id, story in rows.values_list("case", "story"):
        words.setdefault(case_id, story)
    return words


def _first_words(case: Case) -> str:
    return next((report.story for report in case.reports.all()), "")


def _group_of(case: Case) -> Iterable[int]:
    """Return the ids of a case and of all that are joined with it."""
    lead = case.joined_to_id or case.pk
    yield lead
    yield case.pk
    yield from Case.objects.filter(joined_to=lead).values_list("pk", flat=True)
