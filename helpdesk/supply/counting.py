"""How many people found a fault with a subject, of how many who are known to use it.

A share is never more than its count, its interval and its basis together: people write when
something failed, so it says nothing of how often a product fails.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from helpdesk.diagnosis.models import Verdict
from helpdesk.people.models import Part, Role
from helpdesk.supply.engine import Ends, interval_of
from helpdesk.supply.models import Subject, SubjectCase, SubjectKind

BASIS = (
    "known to this desk, counted once for each person; people write to us when something failed, "
    "so this is no failure rate of the product"
)
# Whose print it is stands for the print; who sent it or pointed at it, only where nobody owns it.
_ROLES = (Role.OWNER, Role.SUBMITTER, Role.FINDER)
_WITH = {
    SubjectKind.MAKER: "with something of this maker",
    SubjectKind.SELLER: "with something of this seller",
    SubjectKind.PRODUCT: "with this product",
    SubjectKind.BATCH: "with this batch",
}


@dataclass(frozen=True)
class Share:
    """A count with its 95 % interval; the ends are None where nothing is known to count."""

    hits: int
    of: int
    ends: Ends | None
    basis: str


def count_share(subject: Subject, fault: str) -> Share:
    """Return how many people whose case names a subject had a fault confirmed.

    Erased cases do not count, nor what was joined to another case: the lead stands for all.
    """
    cases = set(
        SubjectCase.objects.filter(
            subject__in=list_below(subject),
            is_dropped=False,
            case__erased_at__isnull=True,
            case__joined_to__isnull=True,
        ).values_list("case", flat=True)
    )
    persons = persons_of(cases)
    found = set(Verdict.objects.filter(case__in=cases, fault=fault).values_list("case", flat=True))
    of = len(set(persons.values()))
    hits = len({persons[case_id] for case_id in found})
    return share_of(hits, of, subject.kind)


def share_of(hits: int, of: int, kind: str) -> Share:
    """Return a share with its interval and its basis in words."""
    basis = f"{hits} of {of} {'print' if of == 1 else 'prints'} {_WITH[SubjectKind(kind)]} {BASIS}"
    return Share(hits, of, interval_of(hits, of) if of else None, f"{basis}.")


def list_below(subject: Subject) -> list[int]:
    """Return the ids of a subject and of all that stands below it."""
    ids = [subject.pk]
    level = [subject.pk]
    while level:
        level = list(Subject.objects.filter(parent__in=level).values_list("pk", flat=True))
        ids += level
    return ids


def persons_of(case_ids: Iterable[int]) -> Mapping[int, str]:
    """Return who a case counts for, in a name that is the same for all cases of one person."""
    ids = list(case_ids)
    found: dict[int, dict[str, int]] = {}
    parts = Part.objects.filter(case__in=ids)
    for case_id, role, person in parts.values_list("case", "role", "person"):
        found.setdefault(case_id, {})[role] = person
    return {case_id: _name(case_id, found.get(case_id, {})) for case_id in ids}


def _name(case_id: int, persons: Mapping[str, int]) -> str:
    person = next((persons[role] for role in _ROLES if role in persons), None)
    return f"person {person}" if person is not None else f"case {case_id}"
