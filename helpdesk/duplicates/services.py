"""Take traces of cases, propose pairs, and do what a reviewer decides. Safe to repeat."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass

from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.answers.services import offer_answer, take_back_offer
from helpdesk.cases.joining import join_cases, part_case
from helpdesk.cases.models import Case, CaseState
from helpdesk.cases.services import record_event
from helpdesk.core import clock
from helpdesk.core.errors import WrongStateError
from helpdesk.duplicates.alignment import compare
from helpdesk.duplicates.evidence import (
    THRESHOLD,
    Evidence,
    give_reasons,
    judge,
    weigh_clash,
    weigh_copied,
    weigh_picture,
    weigh_words,
)
from helpdesk.duplicates.models import PhotoPrint, Proposal, ProposalState, Trace, TraceKind
from helpdesk.duplicates.pictures import bands_of, near_bands, take_print
from helpdesk.duplicates.selectors import (
    MOST_PHOTOS,
    find_candidates,
    get_text,
    list_links,
    list_person_marks,
    list_ready_photos,
    list_recent_texts,
)
from helpdesk.duplicates.texts import compare_texts, mark_text, number_of, weigh_texts
from helpdesk.photos.models import Photo, photo_storage

MOST_COMPARED = 40  # pairs of photos in one look; about a tenth of a second each
MOST_A_PAIR = 6
MOST_UNVOTED = 4
SAME_PICTURE = 0.9  # of the evidence of a new photo that reopens a pair kept apart
CLASHING = ("machine", "material", "process")


@dataclass(frozen=True)
class Found:
    """Two cases, what speaks for their being one print, and the photos that say it best."""

    first: Case
    second: Case
    evidence: Evidence
    photos: tuple[int, int] | None


class Budget:
    """How many more pairs of photos a look may compare."""

    def __init__(self, left: int = MOST_COMPARED) -> None:
        """Begin with so many."""
        self.left = left

    def take(self, wanted: Sequence[tuple[int, int]]) -> Sequence[tuple[int, int]]:
        """Return as many of the pairs as there is room for."""
        taken = wanted[: min(self.left, MOST_A_PAIR)]
        self.left -= len(taken)
        return taken


def look_for_duplicates(case_id: int) -> int:
    """Take a case's traces anew and propose what may be the same print; return how many."""
    case = Case.objects.filter(pk=case_id, erased_at__isnull=True).first()
    if case is None:
        return 0
    return sum(_propose(pair) for pair in weigh_candidates(case))


def weigh_candidates(case: Case) -> Iterator[Found]:
    """Take a case's traces anew and yield it with each case it shares traces with."""
    probes = {photo.pk: _take_photo(photo) for photo in list_ready_photos(case)}
    looked_up = keep_traces(case)
    rarity = weigh_texts(list_recent_texts())
    budget = Budget()
    for candidate in find_candidates(case, looked_up, probes):
        other = Case.objects.get(pk=candidate.case_id)
        # Always from the lower number, so that it does not matter which case was looked at.
        first, second = (case, other) if case.pk < other.pk else (other, case)
        known = Proposal.objects.filter(first=first, second=second).first()
        if known is None or _may_ask_again(known):
            pairs = candidate.photo_pairs
            if first is other:
                pairs = tuple((b, a) for a, b in pairs)
            seen = set(known.seen_photos) if known else set()
            yield _weigh(first, second, _unseen(pairs, seen), rarity, budget, seen)


@transaction.atomic
def keep_traces(case: Case) -> Mapping[TraceKind, Sequence[int]]:
    """Store what a case's links, person and words are looked up by, and return it."""
    wanted = {
        TraceKind.LINK: [number_of(link) for link in sorted(list_links(case))],
        TraceKind.PERSON: [number_of(mark) for mark in sorted(list_person_marks(case))],
        TraceKind.TEXT: list(mark_text(get_text(case))),
    }
    Trace.objects.filter(case=case, photo__isnull=True).delete()
    Trace.objects.bulk_create(
        Trace(case=case, kind=kind, value=value)
        for kind, values in wanted.items()
        for value in values
    )
    return wanted


@transaction.atomic
def accept_proposal(proposal_id: int, *, actor: User) -> Case:
    """Join the two cases of a proposal; return the case that leads.

    The one that was answered leads, or else the one that came first.
    """
    proposal = _get(proposal_id, ProposalState.OPEN)
    lead, moved = _order(_lead_of(proposal.first), _lead_of(proposal.second))
    why = "; ".join(reason["words"] for reason in proposal.reasons if reason["weight"] > 0)
    if lead.pk != moved.pk:
        join(moved, into=lead, actor=actor, why=why)
        proposal.moved = moved
    _decide(proposal, ProposalState.SAME, actor)
    return lead


@transaction.atomic
def refuse_proposal(proposal_id: int, *, actor: User) -> Proposal:
    """Keep the two cases of a proposal apart; they are proposed again for a new photo only."""
    proposal = _get(proposal_id, ProposalState.OPEN)
    proposal.seen_photos = sorted(_photo_ids(proposal.first, proposal.second))
    _decide(proposal, ProposalState.APART, actor)
    for case, other in (
        (proposal.first, proposal.second),
        (proposal.second, proposal.first),
    ):
        what = f"Not the same print as case {other.pk}"
        record_event(case, kind="kept_apart", what=what, actor=actor, data={"case": other.pk})
    return proposal


@transaction.atomic
def undo_decision(proposal_id: int, *, actor: User) -> Proposal:
    """Take a decision back: the cases stand where they stood, and the proposal is open again."""
    proposal = _get(proposal_id, ProposalState.SAME, ProposalState.APART)
    moved = proposal.moved
    if moved and moved.joined_to_id:
        part(moved, actor=actor, why="Taken back")
    proposal.moved = None
    proposal.seen_photos = []
    _decide(proposal, ProposalState.OPEN, None)
    return proposal


@transaction.atomic
def join(case: Case, *, into: Case, actor: User, why: str = "") -> Case:
    """Join a case to another; where that was answered, its answer waits as a draft here."""
    lead = join_cases(case, into=into, actor=actor, why=why)
    for joined in lead.joined.all():
        offer_answer(joined, actor=actor)
    return lead


@transaction.atomic
def part(case: Case, *, actor: User, why: str = "") -> Case:
    """Undo a joining; drafts of the lead's answer that were not sent go."""
    lead = part_case(case, actor=actor, why=why)
    for parted in (case, *case.joined.all()):
        take_back_offer(parted)
    return lead


@transaction.atomic
def forget_case(case: Case) -> None:
    """Remove what a case was recognised by, and every proposal about it."""
    Trace.objects.filter(case=case).delete()
    PhotoPrint.objects.filter(photo__case=case).delete()
    Proposal.objects.filter(first=case).delete()
    Proposal.objects.filter(second=case).delete()


def _take_photo(photo: Photo) -> tuple[int, ...]:
    """Store a photo's print unless it is there; return what to look up."""
    with photo_storage().open(str(photo.thumb.name)) as file:
        taken = take_print(file.read())
    if not PhotoPrint.objects.filter(photo=photo).exists():
        with transaction.atomic():
            # Locked, so that a photo erased meanwhile leaves nothing behind.
            kept = Photo.objects.select_for_update().filter(pk=photo.pk, case=photo.case).first()
            if kept is None or kept.case is None:
                return ()
            PhotoPrint.objects.get_or_create(photo=kept, defaults={"small": taken.small})
            Trace.objects.filter(photo=kept).delete()
            values = [(TraceKind.DETAIL, word) for word in sorted(set(taken.words))]
            values += [(TraceKind.WHOLE, _whole(band)) for band in bands_of(taken.whole_hash)]
            Trace.objects.bulk_create(
                Trace(case=kept.case, photo=kept, kind=kind, value=value) for kind, value in values
            )
    whole = [_whole(band) for band in near_bands(taken.whole_hash)] if taken.words else []
    return tuple({*(each for probe in taken.probes for each in probe), *whole})


def _whole(band: int) -> int:
    """Return a band as a trace's value, apart from the words of details."""
    return band | (1 << 40)


def _weigh(
    first: Case,
    second: Case,
    photo_pairs: Sequence[tuple[int, int]],
    rarity: Mapping[str, float],
    budget: Budget,
    seen: Collection[int],
) -> Found:
    """Return what speaks for two cases being one print, and against it."""
    likeness = compare_texts(get_text(first), get_text(second), rarity)
    (picture, alike), photos = _compare_photos(first, second, photo_pairs, budget, seen)
    evidence = Evidence(
        picture=picture,
        alike=alike,
        link=float(bool(list_links(first) & list_links(second))),
        person=float(bool(list_person_marks(first) & list_person_marks(second))),
        copied=weigh_copied(likeness.contained),
        words=weigh_words(likeness.cosine),
        clash=weigh_clash([(getattr(first, name), getattr(second, name)) for name in CLASHING]),
    )
    return Found(first, second, evidence, photos)


def _compare_photos(
    first: Case,
    second: Case,
    photo_pairs: Sequence[tuple[int, int]],
    budget: Budget,
    seen: Collection[int],
) -> tuple[tuple[float, float], tuple[int, int] | None]:
    """Return how far a photo of both is one picture, or alike, and which two say so best.

    Photos that share traces are compared; where none do, the first ones of each case.
    """
    prints = {p.photo_id: bytes(p.small) for p in _prints(first, second)}
    pairs = [pair for pair in photo_pairs if set(pair) <= prints.keys()]
    if not pairs:
        every = [(a, b) for a in _ids(first, prints) for b in _ids(second, prints)]
        pairs = _unseen(every, seen)[:MOST_UNVOTED]
    best: tuple[tuple[float, float], tuple[int, int] | None] = ((0.0, 0.0), None)
    for pair in budget.take(pairs):
        found = weigh_picture(compare(*(prints[photo] for photo in pair)))
        if found > best[0]:
            best = found, pair
    return best


def _unseen(pairs: Iterable[tuple[int, int]], seen: Collection[int]) -> list[tuple[int, int]]:
    """Return the pairs of photos, in order, that nobody has kept apart yet."""
    return sorted(pair for pair in pairs if not set(pair) <= set(seen))


def _prints(*cases: Case) -> Iterable[PhotoPrint]:
    return PhotoPrint.objects.filter(photo__case__in=cases)


def _ids(case: Case, prints: Mapping[int, bytes]) -> list[int]:
    ids = case.photos.order_by("position", "pk").values_list("pk", flat=True)
    return [pk for pk in ids if pk in prints][:MOST_PHOTOS]


def _propose(found: Found) -> bool:
    """Store a pair that is likely enough, and return whether it waits for a decision."""
    known = Proposal.objects.filter(first=found.first, second=found.second).first()
    probability = judge(found.evidence)
    if probability < THRESHOLD:
        if known and known.state == ProposalState.OPEN:
            known.delete()
        return False
    if known and known.state == ProposalState.APART:
        new = set(found.photos or ()) - set(known.seen_photos)
        if not new or found.evidence.picture < SAME_PICTURE:
            return False
    photos = found.photos or (None, None)
    values = {
        "probability": probability,
        "reasons": [asdict(reason) for reason in give_reasons(found.evidence)],
        "first_photo_id": photos[0],
        "second_photo_id": photos[1],
        "made_at": clock.now(),
        "state": ProposalState.OPEN,
        "decided_by": None,
        "decided_at": None,
        "seen_photos": [],
    }
    Proposal.objects.update_or_create(first=found.first, second=found.second, defaults=values)
    return True


def _may_ask_again(known: Proposal) -> bool:
    """Return True for an open pair, and for one kept apart of which there is a new photo."""
    if known.state == ProposalState.APART:
        return bool(_photo_ids(known.first, known.second) - set(known.seen_photos))
    return known.state == ProposalState.OPEN


def _photo_ids(*cases: Case) -> set[int]:
    return set(Photo.objects.filter(case__in=cases).values_list("pk", flat=True))


def _get(proposal_id: int, *states: str) -> Proposal:
    """Return a locked proposal in one of the states; raises WrongStateError for another."""
    locked = Proposal.objects.select_for_update(of=("self",))
    proposal = locked.select_related("first", "second", "moved").get(pk=proposal_id)
    if proposal.state not in states:
        words = "was decided already" if proposal.decided_at else "is not decided yet"
        raise WrongStateError(f"This pair {words}.")
    return proposal


def _decide(proposal: Proposal, state: str, actor: User | None) -> None:
    proposal.state = state
    proposal.decided_by = actor
    proposal.decided_at = clock.now() if actor else None
    proposal.save()


def _lead_of(case: Case) -> Case:
    return case.joined_to or case


def _order(one: Case, other: Case) -> tuple[Case, Case]:
    """Return which of two cases leads, and which is joined to it."""

    def place(case: Case) -> tuple[bool, bool, int]:
        is_answered = case.state in (CaseState.ANSWERED, CaseState.CLOSED)
        return not is_answered, not case.joined.exists(), case.pk

    lead, moved = sorted((one, other), key=place)
    return lead, moved
