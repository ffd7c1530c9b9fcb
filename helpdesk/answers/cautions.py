"""Cautions of an answer: they may be reworded, and never go missing unnoticed.

A caution lives outside the text a reviewer edits freely. It has a field of its own, and what is
sent is put together from the fields, so rewriting the text cannot lose it. A caution about a danger
the desk still sees cannot be taken out at all; any other needs a reason, which is recorded.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

FROM_ACTION = "action"
LEAST_DANGER_LETTERS = 10  # a full stop or "n/a" is no caution [judgement: desk design, 2026-11]


@dataclass(frozen=True, kw_only=True)
class Caution:
    """One caution: the knowledge's text, where it comes from, and how it will be sent."""

    id: str
    text: str
    is_danger: bool
    title: str = ""
    origin: str = FROM_ACTION  # or the id of the danger that raised it
    wording: str = ""
    left_out: str = ""  # the reason, when it is not sent

    @property
    def sent_text(self) -> str:
        """Return the words that go out, or "" when it is left out."""
        return "" if self.left_out else (self.wording or self.text)


@dataclass(frozen=True)
class CautionsKept:
    """Cautions after an edit, with what the desk had to put right."""

    cautions: tuple[Caution, ...]
    put_back: tuple[Caution, ...]
    newly_left_out: tuple[Caution, ...]


def read_cautions(rows: Iterable[Mapping[str, Any]]) -> tuple[Caution, ...]:
    """Return stored cautions as values, dangers first."""
    known = Caution.__dataclass_fields__
    cautions = [Caution(**{k: v for k, v in row.items() if k in known}) for row in rows]
    return tuple(sorted(cautions, key=lambda c: not c.is_danger))


def store_cautions(cautions: Iterable[Caution]) -> list[dict[str, Any]]:
    """Return cautions as data for the row."""
    return [asdict(caution) for caution in cautions]


def is_mandatory(caution: Caution, raised: Collection[str]) -> bool:
    """Return True for a danger's caution, unless its danger is no longer seen."""
    return caution.is_danger and (caution.origin == FROM_ACTION or caution.origin in raised)


def keep_cautions(
    cautions: Sequence[Caution],
    *,
    wordings: Mapping[str, str],
    reasons: Mapping[str, str],
    raised: Collection[str],
) -> CautionsKept:
    """Return the cautions as reworded; one without words is put back unless it may be left out.

    A caution without an entry in `wordings` stays as it is.
    """
    kept, put_back, left_out = [], [], []
    for caution in cautions:
        wording = wordings.get(caution.id, caution.sent_text).strip()
        reason = reasons.get(caution.id, caution.left_out).strip()
        if reason and not is_mandatory(caution, raised):
            changed = replace(caution, wording=wording, left_out=reason)
            if reason != caution.left_out:
                left_out.append(changed)
        elif _says_something(caution, wording):
            changed = replace(caution, wording=wording, left_out="")
        else:
            changed = replace(caution, wording=caution.text, left_out="")
            put_back.append(changed)
        kept.append(changed)
    return CautionsKept(tuple(kept), tuple(put_back), tuple(left_out))


def _says_something(caution: Caution, wording: str) -> bool:
    """Return True when a wording can stand for its caution."""
    letters = sum(character.isalpha() for character in wording)
    return letters >= (LEAST_DANGER_LETTERS if caution.is_danger else 1)


def add_missing(
    cautions: Sequence[Caution], required: Iterable[Caution]
) -> tuple[tuple[Caution, ...], tuple[Caution, ...]]:
    """Return the cautions with the required ones that were missing, and those that were added.

    A danger seen again brings back its caution even if that had been left out.
    """
    by_id = {caution.id: caution for caution in cautions}
    added = []
    for needed in required:
        present = by_id.get(needed.id)
        if present is None or present.left_out:
            by_id[needed.id] = needed
            added.append(needed)
    everything = sorted(by_id.values(), key=lambda c: not c.is_danger)
    return tuple(everything), tuple(added)
