"""What was agreed about a case: when, by whom, in which words, how, for each use."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from helpdesk.cases.models import Case, ConsentRecord, CreditKind
from helpdesk.cases.wordings import find_wording

USES = {
    "answer": "The answer in the public library",
    "photos": "The photos on the show and beside the published answer",
    "name": "The name in credits",
}


@dataclass(frozen=True)
class Agreed:
    """One word on one use: what was said, by whom, when, how, and the words it answers."""

    at: datetime.datetime
    is_allowed: bool
    value: str
    by: str
    how: str
    wording: str
    words: str
    waits_for_guardian: bool


@dataclass(frozen=True)
class UseHistory:
    """A use, whether it is allowed at this moment, and every word on it, the latest first."""

    use: str
    label: str
    is_allowed: bool
    said: Sequence[Agreed]

    @property
    def was_taken_back(self) -> bool:
        """Return True when it was allowed once and is not now."""
        return not self.is_allowed and any(said.is_allowed for said in self.said)


def list_consents(case: Case) -> list[UseHistory]:
    """Return what was agreed about a case, use by use; what repeats the word before is left out."""
    records = list(case.consents.order_by("given_at", "pk"))
    allowed = case.allowed_uses
    return [
        UseHistory(use=use, label=label, is_allowed=use in allowed, said=_said(case, use, records))
        for use, label in USES.items()
    ]


def _said(case: Case, use: str, records: Sequence[ConsentRecord]) -> list[Agreed]:
    said: list[Agreed] = []
    for record in records:
        agreed = _agreed(case, record, use)
        if not said or not _is_same(said[-1], agreed):
            said.append(agreed)
    return said[::-1]


def _is_same(last: Agreed, new: Agreed) -> bool:
    """Return True when a word on a use says what the one before it said."""
    return (last.value, last.waits_for_guardian) == (new.value, new.waits_for_guardian)


def _agreed(case: Case, record: ConsentRecord, use: str) -> Agreed:
    value = _value(record, use)
    wording = find_wording(record.wording)
    return Agreed(
        at=record.given_at,
        is_allowed=value not in ("no", "not named"),
        value=value,
        by=record.given_by,
        how=_how(case, record),
        wording=record.wording,
        words=wording.asked(use) if wording else record.quote,
        waits_for_guardian=record.is_under_16 and not record.guardian_agreed,
    )


def _value(record: ConsentRecord, use: str) -> str:
    """Return what a record says of a use, in words."""
    if use == "name":
        if record.credit_kind == CreditKind.ANONYMOUS:
            return "not named"
        return f"{record.get_credit_kind_display()}: {record.credit_as}".rstrip(": ")
    allowed = {"answer": record.may_publish_answer, "photos": record.may_show_photos}
    return "yes" if allowed[use] else "no"


def _how(case: Case, record: ConsentRecord) -> str:
    """Return by which way a consent came."""
    if find_wording(record.wording) is None:
        return f"told to us, {record.quote_where}" if record.quote_where else "told to us"
    if record.given_at == case.opened_at:
        return f"with the report, by {case.get_channel_display()}"
    return "on the private page"
