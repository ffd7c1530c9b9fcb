"""What people said of readings, to learn from and to hand to who keeps the phrases."""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from helpdesk.cases.models import Case
from helpdesk.diagnosis.engine import (
    JudgedReadings,
    find_words,
    propose_phrase,
    quote_sentence,
)
from helpdesk.diagnosis.models import ReadingCorrection
from helpdesk.diagnosis.selectors import gather_input, list_corrections

NOT_AGREED = "the person did not agree that an answer is published"
NOT_THERE = "the words are no longer in the case"
HIDDEN = "…"  # in the place of names and addresses of the person
_ADDRESS = re.compile(r"\S+@\S+|(?:https?://|www\.)\S+", re.IGNORECASE)


@dataclass(frozen=True)
class Export:
    """Corrections as plain values, oldest first, and why others were left out."""

    lines: Sequence[Mapping[str, Any]]
    left_out: Mapping[str, int]


def list_judged_readings() -> Iterator[JudgedReadings]:
    """Yield the cases with a verdict or a judged reading; erased ones are left out."""
    told = Q(verdicts__isnull=False) | ~Q(reading_corrections__quote="")
    cases = Case.objects.filter(told, erased_at__isnull=True).order_by("pk").distinct()
    for case in cases.iterator(chunk_size=500):
        judged = case.reading_corrections.filter(is_missed=False).exclude(quote="")
        yield JudgedReadings(
            given=gather_input(case),
            said={(said.kind, said.name): said.is_right for said in judged},
            has_verdict=case.verdicts.exists(),
        )


def export_corrections() -> Export:
    """Return what was said of readings, each with the sentence it was read in.

    Only of people who agreed that an answer is published, and without their names and addresses.
    """
    lines, left_out = [], Counter[str]()
    for said in list_corrections().select_related("case"):
        if not said.case.may_answer_in_public:
            left_out[NOT_AGREED] += 1
            continue
        text = gather_input(said.case).text
        if find_words(text, said.quote) is None:
            left_out[NOT_THERE] += 1
            continue
        lines.append(_as_line(said, text))
    return Export(lines, dict(left_out))


def _as_line(said: ReadingCorrection, text: str) -> Mapping[str, Any]:
    """Return a correction as plain values; a missed one with a phrase to be looked at."""
    line: dict[str, Any] = {
        "kind": said.kind,
        "id": said.name,
        "state": said.state or None,
        "judged": "missed" if said.is_missed else "right" if said.is_right else "wrong",
        "words": _without_person(said.quote, said.case),
        "sentence": _without_person(quote_sentence(text, said.quote), said.case),
    }
    if said.is_missed:
        line["proposal"] = propose_phrase(said.quote) or None
    return line


def _without_person(words: str, case: Case) -> str:
    """Return words without the names, handle and addresses of a case's people."""
    hidden = _ADDRESS.sub(HIDDEN, words)
    for name in (case.email, case.person_name, case.owner_name, case.handle, case.credit_as):
        for part in {name, *name.split()}:
            if len(part) > 1:
                hidden = re.sub(rf"(?<!\w){re.escape(part)}(?!\w)", HIDDEN, hidden, flags=re.I)
    return hidden
