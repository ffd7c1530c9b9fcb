"""Reading recurring texts."""

from collections.abc import Sequence
from dataclasses import dataclass

from helpdesk.accounts.models import User
from helpdesk.answers.panel import channel_of
from helpdesk.cases.models import Case
from helpdesk.conversation.models import SetText, TextKind
from helpdesk.conversation.placeholders import Filling, fill
from helpdesk.conversation.previews import fit

# The kinds that suit a box of the case page, the likeliest first.
SUITS = {
    "ask": (TextKind.QUESTION, TextKind.CLOSING, TextKind.ANSWER, TextKind.CHAT),
    "answer": (TextKind.ANSWER, TextKind.CLOSING, TextKind.QUESTION, TextKind.CHAT),
    "note": (TextKind.CHAT, TextKind.QUESTION, TextKind.ANSWER, TextKind.CLOSING),
}


@dataclass(frozen=True)
class FilledText:
    """A recurring text with its placeholders filled for a case, as its channel shows it."""

    text: SetText
    words: str


def list_texts() -> list[SetText]:
    """Return all recurring texts, by kind and title."""
    return list(SetText.objects.select_related("edited_by"))


def list_filled(case: Case, reviewer: User, *, box: str = "ask") -> Sequence[FilledText]:
    """Return the texts filled for a case, those that suit a box first."""
    order = SUITS.get(box, SUITS["ask"])
    channel = channel_of(case)
    filling = Filling(case, reviewer)
    texts = sorted(SetText.objects.all(), key=lambda t: (order.index(TextKind(t.kind)), t.title))
    return [FilledText(text, fit(fill(text.body, filling), channel)) for text in texts]
