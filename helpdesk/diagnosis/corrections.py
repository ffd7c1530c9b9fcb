"""Keeping what people say of readings; whoever calls holds the row lock of the case."""

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.core import clock
from helpdesk.diagnosis.engine import ReadItem, read_items
from helpdesk.diagnosis.models import FindingState, ReadingCorrection, ReadingKind
from helpdesk.diagnosis.selectors import gather_input


def find_item(case: Case, kind: str, name: str) -> ReadItem | None:
    """Return what is read of one thing in the words of a case, None for nothing."""
    items = read_items(gather_input(case))
    return next((item for item in items if (item.about, item.id) == (kind, name)), None)


def learn_from_mark(case: Case, finding: str, state: str, actor: User) -> None:
    """Keep what a reviewer's mark says of the reading, where it says anything.

    The opposite state says nothing: the words may be read rightly and the person mistaken.
    """
    item = find_item(case, ReadingKind.FINDING, finding)
    if state == FindingState.UNKNOWN:
        drop_note(case, finding)
    if item and state in (item.kind, FindingState.UNKNOWN):
        keep_correction(case, item, is_right=state == item.kind, actor=actor)


def keep_correction(
    case: Case, item: ReadItem, *, is_right: bool, actor: User | None
) -> ReadingCorrection:
    """Keep whether something was read rightly, with its words."""
    kept, _ = ReadingCorrection.objects.update_or_create(
        case=case,
        kind=item.about,
        name=item.id,
        is_missed=False,
        defaults={
            "state": item.kind if item.about == ReadingKind.FINDING else "",
            "is_right": is_right,
            "quote": item.quote,
            "start": item.start,
            "end": item.end,
            "said_by": actor,
            "said_at": clock.now(),
        },
    )
    return kept


def keep_note(
    case: Case, finding: str, state: str, *, place: tuple[int, int], quote: str, actor: User
) -> ReadingCorrection:
    """Keep a finding that a reviewer saw in words the reader passed over."""
    start, end = place
    kept, _ = ReadingCorrection.objects.update_or_create(
        case=case,
        kind=ReadingKind.FINDING,
        name=finding,
        is_missed=True,
        defaults={
            "state": state,
            "is_right": True,
            "quote": quote,
            "start": start,
            "end": end,
            "said_by": actor,
            "said_at": clock.now(),
        },
    )
    return kept


def drop_note(case: Case, finding: str) -> bool:
    """Take back what a reviewer had noted of a finding; return whether anything was noted."""
    notes = case.reading_corrections.filter(is_missed=True, name=finding)
    return bool(notes.delete()[0])
