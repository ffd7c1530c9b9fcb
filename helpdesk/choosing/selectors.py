"""Reading what to choose: the proposal for an episode, or for a number of minutes."""

from collections.abc import Sequence
from dataclasses import dataclass

from helpdesk.choosing.gathering import Found, estimate_s, gather, gather_history
from helpdesk.choosing.models import EpisodeRules, Wish, WishKind
from helpdesk.choosing.optimum import choose
from helpdesk.choosing.planning import (
    FixedPart,
    Frame,
    Place,
    Proposal,
    Showable,
    lay_out,
    replacement_of,
)
from helpdesk.choosing.reasons import Weighed, weigh
from helpdesk.choosing.relaxing import find_relaxation
from helpdesk.choosing.values import Option, Rules
from helpdesk.choosing.weights import get_weights, rewards_of
from helpdesk.core import clock
from helpdesk.episodes.models import FREE_TALK_WPM, Episode, SegmentKind, Stand
from helpdesk.episodes.selectors import SheetRow, get_run_sheet
from helpdesk.episodes.services import FRAME
from helpdesk.episodes.timing import count_words

NOT_ANSWERED = "It is not answered yet."  # as the run sheet says it
OPENERS = (SegmentKind.TEASE, SegmentKind.HELLO)
# For what the cases displaced; a page is not waited for longer [judgement: desk, 2026-11]
ENOUGH_S = 8.0
CLOSERS = (SegmentKind.THANKS, SegmentKind.CALL, SegmentKind.FAREWELL)


@dataclass(frozen=True)
class Change:
    """One thing that putting the proposal on the sheet would do."""

    what: str  # "add", "drop" or "order"
    title: str
    words: int = 0  # of script that would go with a part


def get_rules(episode: Episode | None) -> EpisodeRules:
    """Return the rules of an episode; the defaults where none are set."""
    found = EpisodeRules.objects.filter(episode=episode).first() if episode else None
    return found or EpisodeRules(episode=episode)


def get_proposal(episode: Episode | None = None, *, slot_s: int | None = None) -> Proposal:
    """Return the best show for an episode, or for a slot with the usual frame around the cases.

    Raises SolverError when the solver gives no proof.
    """
    rows = get_run_sheet(episode).rows if episode else ()
    frame = _frame_of(episode, rows, slot_s)
    own_rules = get_rules(episode)
    showables = _list_showables(episode, rows, own_rules)
    rules = _rules_of(own_rules, frame, showables)
    options = [shown.option for shown in showables.values()]
    chosen = choose(options, rules, enough_s=ENOUGH_S)
    if chosen is None:
        return Proposal(
            frame=frame,
            rules=rules,
            best=None,
            places=(),
            ordered=None,
            over_s=0,
            relaxation=find_relaxation(options, rules),
            showables=showables,
        )
    displaced = {m.id: replacement_of(m, showables) for m in chosen.margins}
    members = [showables[number] for number in chosen.best.chosen]
    places, ordered, times = lay_out(frame, members, displaced)
    return Proposal(
        frame=frame,
        rules=rules,
        best=chosen.best,
        places=places,
        ordered=ordered,
        over_s=times.over_s,
        relaxation=None,
        showables=showables,
        is_settled=chosen.is_settled,
    )


def list_changes(episode: Episode, places: Sequence[Place]) -> list[Change]:
    """Return what putting a proposal on the sheet would change, in the order it is done."""
    segments = list(episode.segments.order_by("position"))
    wanted = {place.shown.case.pk for place in places if place.shown}
    there = {s.case_id for s in segments if s.case_id}
    changes = [
        Change("add", place.shown.case.title)
        for place in places
        if place.shown and place.shown.case.pk not in there
    ]
    gone = [s for s in segments if s.case_id and s.case_id not in wanted]
    changes += [Change("drop", s.slug, count_words(s.script)) for s in gone]
    kept = [s.pk for s in segments if s not in gone]
    order = [
        segment.pk
        for place in places
        if (segment := place.part.segment if place.part else place.shown and place.shown.segment)
    ]
    if kept != order:
        changes.append(Change("order", ""))
    return changes


def _frame_of(episode: Episode | None, rows: Sequence[SheetRow], slot_s: int | None) -> Frame:
    """Return the parts around and among the cases."""
    if episode is None:
        return _usual_frame(slot_s or 0)
    fixed = [row for row in rows if row.segment.case_id is None]
    head = 0
    while head < len(fixed) and _stands(fixed[head], OPENERS, Stand.OPENING):
        head += 1
    tail = len(fixed)
    while tail > head and _stands(fixed[tail - 1], CLOSERS, Stand.CLOSING):
        tail -= 1
    parts = [_fixed_part(row) for row in fixed]
    return Frame(
        starts_at=episode.starts_at,
        slot_s=episode.slot_s if slot_s is None else slot_s,
        before=parts[:head],
        among=parts[head:tail],
        after=parts[tail:],
    )


def _usual_frame(slot_s: int) -> Frame:
    """Return the frame every new episode has."""
    parts = [
        FixedPart(id=-n, slug=slug, kind=kind.label, seconds=fixed_s)
        for n, (kind, slug, fixed_s) in enumerate(FRAME, 1)
    ]
    split = sum(1 for kind, _, _ in FRAME if kind in OPENERS)
    return Frame(
        starts_at=clock.now().replace(microsecond=0),
        slot_s=slot_s,
        before=parts[:split],
        among=(),
        after=parts[split:],
    )


def _stands(row: SheetRow, kinds: Sequence[str], stand: str) -> bool:
    """Return True when a part without a fixed time stands at the start, or at the end."""
    segment = row.segment
    own = segment.own_kind.stands if segment.own_kind else ""
    return segment.hit_at is None and (segment.kind in kinds or own == stand)


def _fixed_part(row: SheetRow) -> FixedPart:
    segment = row.segment
    return FixedPart(
        id=segment.pk,
        slug=segment.slug,
        kind=segment.kind_name,
        seconds=row.seconds,
        is_notice=segment.kind == SegmentKind.NOTICE,
        hit_at=segment.hit_at,
        segment=segment,
    )


def _list_showables(
    episode: Episode | None, rows: Sequence[SheetRow], rules: EpisodeRules
) -> dict[int, Showable]:
    """Return every case that could be shown, wished for or on the sheet, by number."""
    wishes = {}
    if episode:
        wishes = dict(Wish.objects.filter(episode=episode).values_list("case", "kind"))
    on_sheet = {row.segment.case_id: row for row in rows if row.segment.case_id}
    weights, today = get_weights(), clock.today()
    history = gather_history(before=episode.number if episode else None)
    rate = episode.words_per_minute if episode else FREE_TALK_WPM
    shown = {}
    for found in gather(also={*wishes, *on_sheet}):
        row = on_sheet.get(found.case.pk)
        if row:
            seconds = max(1, row.seconds)
        else:
            seconds = estimate_s(found, words_per_minute=rate, least_s=rules.least_case_s)
        reasons = weigh(found.facts, history, weights, today=today)
        shown[found.case.pk] = _show(
            found, reasons, seconds, wish=wishes.get(found.case.pk, ""), row=row
        )
    return shown


def _show(
    found: Found, reasons: Sequence[Weighed], seconds: int, *, wish: str, row: SheetRow | None
) -> Showable:
    """Return a case as the page tells of it.

    Who put a case on the sheet that is not answered yet meant to answer it in time; the choosing
    by itself takes answered cases only.
    """
    bars = list(found.bars)
    if not found.facts.is_answered and row is None:
        bars.append(NOT_ANSWERED)
    return Showable(
        case=found.case,
        option=Option(
            id=found.case.pk,
            seconds=seconds,
            # Nothing is worth nothing: an empty minute never beats a case.
            worth=max(1, sum(reason.worth for reason in reasons)),
            traits=found.facts.traits,
            people=found.people,
            is_barred=bool(bars),
        ),
        reasons=reasons,
        bars=bars,
        lacks=[text for text in found.lacks if text not in bars],
        wish=wish,
        segment=row.segment if row else None,
        is_cured=found.is_cured,
    )


def _rules_of(rules: EpisodeRules, frame: Frame, showables: dict[int, Showable]) -> Rules:
    """Return the rules of the optimum: what stands on the sheet stays unless it is a never."""
    never = {n for n, shown in showables.items() if shown.wish == WishKind.NEVER}
    must = {n for n, shown in showables.items() if shown.wish == WishKind.MUST}
    must |= {n for n, shown in showables.items() if shown.is_on_sheet} - never
    return Rules(
        seconds=frame.left_s,
        rewards=rewards_of(get_weights()),
        most_per_person=rules.most_per_person,
        least_families=rules.least_families,
        must=frozenset(must),
        never=frozenset(never),
    )
