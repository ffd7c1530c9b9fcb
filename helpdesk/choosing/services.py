"""Everything that changes what is chosen: weights, rules, wishes, and the run sheet at last."""

from collections.abc import Mapping, Sequence

from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.choosing.errors import StaleChoiceError
from helpdesk.choosing.models import EpisodeRules, Weight, Wish, WishKind
from helpdesk.choosing.planning import Place, Proposal
from helpdesk.choosing.selectors import get_proposal, get_rules, list_changes
from helpdesk.choosing.weights import get_weights
from helpdesk.core import clock
from helpdesk.episodes.locks import lock_sheet
from helpdesk.episodes.models import Episode, Segment
from helpdesk.episodes.selectors import get_run_sheet
from helpdesk.episodes.services import add_case, change_segment, move_segment, remove_segment


@transaction.atomic
def set_weights(points: Mapping[str, int], *, actor: User) -> int:
    """Store what reasons are worth; returns how many changed."""
    known = get_weights()
    changed = {reason: value for reason, value in points.items() if known[reason] != value}
    for reason, value in changed.items():
        weight = Weight.objects.filter(reason=reason).first() or Weight(reason=reason)
        weight.points, weight.set_by, weight.set_at = value, actor, clock.now()
        weight.full_clean()
        weight.save()
    return len(changed)


@transaction.atomic
def set_rules(episode: Episode, values: Mapping[str, int]) -> EpisodeRules:
    """Store what the set of an episode must keep to."""
    lock_sheet(episode)
    rules = get_rules(episode)
    for name in ("most_per_person", "least_families", "least_case_s"):
        if name in values:
            setattr(rules, name, values[name])
    rules.full_clean()
    rules.save()
    return rules


@transaction.atomic
def set_wish(episode: Episode, case: Case, *, kind: str, actor: User) -> Wish | None:
    """Note that a case must be in, or never; "" takes the wish back."""
    lock_sheet(episode)
    if not kind:
        Wish.objects.filter(episode=episode, case=case).delete()
        return None
    wish, _ = Wish.objects.update_or_create(
        episode=episode,
        case=case,
        defaults={"kind": WishKind(kind), "set_by": actor, "set_at": clock.now()},
    )
    return wish


@transaction.atomic
def swap_cases(episode: Episode, *, out: Case, coming: Case, actor: User) -> None:
    """Never the one, and must have the other; the rest is chosen anew round them."""
    set_wish(episode, out, kind=WishKind.NEVER, actor=actor)
    set_wish(episode, coming, kind=WishKind.MUST, actor=actor)


@transaction.atomic
def put_on_sheet(episode: Episode, *, case_ids: Sequence[int], actor: User) -> int:
    """Put a proposal on the run sheet in its order; returns how many things changed.

    `case_ids` are the cases as they were seen. Parts that are no case stay, with their words. Safe
    to repeat: what is there already is left alone.

    Raises StaleChoiceError when the best set is another by now, EpisodeOutError for a shown one.
    """
    lock_sheet(episode)
    proposal = get_proposal(episode)
    if not proposal.best or proposal.case_ids != list(case_ids):
        raise StaleChoiceError("The cases or the sheet changed meanwhile; nothing was put on it.")
    changes = list_changes(episode, proposal.places)
    _drop_others(episode, proposal)
    for place in proposal.chosen:
        if place.shown and not place.shown.segment:
            add_case(episode, place.shown.case, actor=actor)
    _keep_lengths(episode, proposal.chosen)
    _keep_order(episode, proposal)
    return len(changes)


def _drop_others(episode: Episode, proposal: Proposal) -> None:
    """Take the cases off the sheet that are not in the proposal."""
    others = episode.segments.filter(case__isnull=False).exclude(case__in=proposal.case_ids)
    for segment in others:
        remove_segment(segment)


def _keep_lengths(episode: Episode, chosen: Sequence[Place]) -> None:
    """Give new parts the length they were chosen with: what words do not fill is fixed time."""
    planned = {p.shown.case.pk: p.shown.seconds for p in chosen if p.shown and not p.shown.segment}
    for row in get_run_sheet(episode).rows:
        short_s = planned.get(row.segment.case_id or 0, 0) - row.seconds
        if short_s > 0:
            change_segment(row.segment, {"fixed_s": row.segment.fixed_s + short_s})


def _keep_order(episode: Episode, proposal: Proposal) -> None:
    """Move every part to its place that is not there yet."""
    by_case = {s.case_id: s for s in episode.segments.all() if s.case_id}
    for number, place in enumerate(proposal.places, 1):
        segment = by_case[place.shown.case.pk] if place.shown else _segment_of(place)
        if segment is None:
            continue
        segment.refresh_from_db(fields=["position"])
        if segment.position != number:
            move_segment(segment, place=number)


def _segment_of(place: Place) -> Segment | None:
    return place.part.segment if place.part else None
