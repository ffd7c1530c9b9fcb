"""What a case still needs before it may be shown, and what keeps it from going out."""

from collections.abc import Sequence
from dataclasses import dataclass

from helpdesk.cases.models import Case
from helpdesk.episodes.models import Segment, SegmentKind
from helpdesk.episodes.withdrawals import has_taken_back
from helpdesk.supply.selectors import list_blocks


@dataclass(frozen=True)
class Missing:
    """One thing a case still needs; a blocking one keeps the episode from going out."""

    case: Case
    text: str
    is_blocking: bool


def list_missing(case: Case, *, blocks: Sequence[str] | None = None) -> list[Missing]:
    """Return what a case still needs before it may be shown.

    `blocks` are the reasons of fairness that keep it back, looked up when they are not given. Uses
    `case.photos`, `case.answers` and `case.consents` as prefetched by get_run_sheet.
    """
    unfair = list_blocks(case) if blocks is None else blocks
    photos = list(case.photos.all())
    answers = [a for a in case.answers.all() if a.sent_at]
    found = [Missing(case, refusal, True) for refusal in (find_refusal(case), *unfair) if refusal]
    if not photos:
        found.append(Missing(case, "There is no photo.", False))
    undescribed = sum(1 for p in photos if not p.alt_text)
    if undescribed:
        noun = "photo has" if undescribed == 1 else "photos have"
        found.append(Missing(case, f"{undescribed} {noun} no description.", False))
    if not answers:
        found.append(Missing(case, "It is not answered yet.", False))
    return found


def find_refusal(case: Case) -> str:
    """Return why the person keeps a case from being shown, "" when it may be."""
    if case.erased_at:
        return "The person asked us to erase this case."
    if not case.is_own_print and not case.may_show_photos:
        return "It was passed on: the owner has not agreed."
    if has_taken_back(case):
        return "The person took back that photos may be shown."
    if not case.may_show_photos:
        return "No consent to show the photos."
    if not case.may_show_in_public:
        return "A guardian has not agreed yet."
    return ""


def list_part_missing(segment: Segment, *, blocks: Sequence[str]) -> list[Missing]:
    """Return what a part still needs; one that is no case needs nothing."""
    if segment.case is not None:
        return list_missing(segment.case, blocks=blocks)
    if segment.kind == SegmentKind.CASE:
        return [Missing(Case(title=segment.slug), "This part has lost its case.", True)]
    return []
