"""Reading people: the search, a person's cases, who is who in a case."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from django.db.models import Exists, OuterRef, Q, QuerySet

from helpdesk.cases.models import Appearance, Case, CreditKind, Outcome, OutcomeResult
from helpdesk.core.paging import KeysetPage, keyset_page
from helpdesk.diagnosis.models import Verdict
from helpdesk.outbox.marks import find_mark
from helpdesk.people.given import list_given
from helpdesk.people.models import Contact, ContactKind, Merge, Part, Person, Role

PAGE_SIZE = 30
MOST_CASES = 60  # shown on a person's page, the latest first
MOST_WORDS = 6
MOST_ALIKE = 8
Row = TypeVar("Row", Verdict, Outcome)


@dataclass(frozen=True)
class ShownContact:
    """A contact with what is known of letters to it."""

    contact: Contact
    is_undeliverable: bool


@dataclass(frozen=True)
class PersonCase:
    """A case of a person at a glance."""

    case: Case
    roles: Sequence[str]
    fault: str
    outcome: str
    appearances: Sequence[Appearance]


@dataclass(frozen=True)
class PersonPage:
    """Everything a person's page shows."""

    person: Person
    contacts: Sequence[ShownContact]
    cases: Sequence[PersonCase]
    has_more_cases: bool
    merges: Sequence[Merge]
    alike: Sequence[Person]


@dataclass(frozen=True)
class CasePerson:
    """Somebody with a part in a case, and what is known of them from others."""

    person: Person
    parts: Sequence[Part]
    earlier: int
    last_outcome: str
    credit: str

    @property
    def roles(self) -> str:
        """Return what they are to the case, in words."""
        return ", ".join(part.get_role_display() for part in self.parts)

    @property
    def owner_part(self) -> Part | None:
        """Return their part as the owner of a print that was passed on, if it is one."""
        roles = {part.role: part for part in self.parts}
        return roles.get(Role.OWNER) if Role.SUBMITTER not in roles else None


@dataclass(frozen=True)
class Credit:
    """A name to be said aloud, for what, and how it is said ("" when nobody noted it)."""

    role: str
    name: str
    said_as: str


def list_case_ids(*, after: int, limit: int) -> list[int]:
    """Return the numbers of the next cases that have a person, in order."""
    found = Case.objects.filter(pk__gt=after, erased_at__isnull=True).order_by("pk")
    return list(found.values_list("pk", flat=True)[:limit])


def list_people(words: str, *, after: str = "") -> KeysetPage[Person]:
    """Return a page of the people whose name or address holds all the words, newest first."""
    found = Person.objects.filter(merged_into__isnull=True)
    for word in words.split()[:MOST_WORDS]:
        contacts = Contact.objects.filter(Q(value__icontains=word) | Q(key__icontains=word))
        found = found.filter(
            Q(name__icontains=word) | Exists(contacts.filter(person=OuterRef("pk")))
        )
    return keyset_page(
        found.prefetch_related("contacts", "parts"), fields=("-id",), after=after, size=PAGE_SIZE
    )


def get_person_page(person: Person) -> PersonPage:
    """Return everything the page of a person shows."""
    parts = list(person.parts.order_by("-case_id", "role")[: MOST_CASES * 3 + 1])
    by_case: dict[int, list[Part]] = {}
    for part in parts:
        by_case.setdefault(part.case_id, []).append(part)
    ids = list(by_case)[:MOST_CASES]
    return PersonPage(
        person=person,
        contacts=[_show_contact(contact) for contact in person.contacts.all()],
        cases=_list_cases({pk: by_case[pk] for pk in ids}),
        has_more_cases=len(by_case) > MOST_CASES,
        merges=list(person.merges.filter(undone_at__isnull=True).select_related("gone", "by")),
        alike=find_perhaps_same(person),
    )


def find_perhaps_same(person: Person) -> list[Person]:
    """Return people who may be the same: one of this person's cases gave an address of theirs."""
    found: dict[int, Person] = {}
    sent = Case.objects.filter(parts__person=person, parts__role=Role.SUBMITTER)
    for case in sent.distinct().order_by("-pk")[:MOST_CASES]:
        for given in list_given(case):
            contacts = Contact.objects.filter(
                kind=given.kind, key=given.key, place_key=given.place_key
            ).exclude(person=person)
            if given.tells_who:
                found |= {c.person_id: c.person for c in contacts.select_related("person")}
    return list(found.values())[:MOST_ALIKE]


def list_case_people(case: Case) -> list[CasePerson]:
    """Return who has a part in a case, who sent it first."""
    by_person: dict[int, list[Part]] = {}
    order = {Role.SUBMITTER: 0, Role.FINDER: 1, Role.OWNER: 2}
    for part in sorted(
        case.parts.select_related("person"), key=lambda part: order[Role(part.role)]
    ):
        by_person.setdefault(part.person_id, []).append(part)
    return [_case_person(case, parts) for parts in by_person.values()]


def list_credits(case: Case) -> list[Credit]:
    """Return the names to say for a case: who sent it, and the owner when that is another.

    Uses `case.parts` with their people as prefetched where they are.
    """
    parts = {part.role: part for part in case.parts.all()}
    sender, owner = parts.get(Role.SUBMITTER), parts.get(Role.OWNER)
    found = []
    if case.spoken_credit:
        said_as = sender.person.said_as if sender else ""
        role = "" if case.is_own_print else "found by"
        found.append(Credit(role=role, name=case.spoken_credit, said_as=said_as))
    if owner and not case.is_own_print and (name := owner_credit(owner)):
        found.append(Credit(role="owner", name=name, said_as=owner.person.said_as))
    return found


def owner_credit(part: Part) -> str:
    """Return how the owner of a print that was passed on is named, "" when not at all."""
    if part.credit_kind == CreditKind.ANONYMOUS:
        return ""
    return part.credit_as or part.person.name


def _case_person(case: Case, parts: Sequence[Part]) -> CasePerson:
    person = parts[0].person
    others = Case.objects.filter(parts__person=person).exclude(pk=case.pk).distinct()
    outcomes = Outcome.objects.filter(case__in=others).order_by("-said_at", "-pk")
    last = outcomes.first()
    is_owner_only = all(part.role == Role.OWNER for part in parts)
    return CasePerson(
        person=person,
        parts=parts,
        earlier=others.filter(opened_at__lte=case.opened_at).count(),
        last_outcome=OutcomeResult(last.result).label if last else "",
        credit=owner_credit(parts[0]) if is_owner_only else case.spoken_credit,
    )


def _show_contact(contact: Contact) -> ShownContact:
    mark = find_mark(contact.value) if contact.kind == ContactKind.MAIL else None
    return ShownContact(contact, is_undeliverable=bool(mark and mark.undeliverable_at))


def _list_cases(parts: Mapping[int, Sequence[Part]]) -> list[PersonCase]:
    """Return cases with fault, last outcome and where they were shown, in four queries."""
    cases = Case.objects.in_bulk(list(parts))
    faults = _first_of(Verdict.objects.filter(case__in=cases).order_by("position", "pk"))
    outcomes = _first_of(Outcome.objects.filter(case__in=cases).order_by("-said_at", "-pk"))
    shown: dict[int, list[Appearance]] = {}
    for appearance in Appearance.objects.filter(case__in=cases).order_by("episode_number"):
        shown.setdefault(appearance.case_id, []).append(appearance)
    return [
        PersonCase(
            case=cases[pk],
            roles=[part.get_role_display() for part in own],
            fault=faults[pk].fault_name if pk in faults else "",
            outcome=OutcomeResult(outcomes[pk].result).label if pk in outcomes else "",
            appearances=shown.get(pk, ()),
        )
        for pk, own in parts.items()
    ]


def _first_of(rows: Iterable[Row]) -> dict[int, Row]:
    first: dict[int, Row] = {}
    for row in rows:
        first.setdefault(row.case_id, row)
    return first


def list_cases_of(person: Person) -> QuerySet[Case]:
    """Return every case a person has a part in, oldest first."""
    return Case.objects.filter(parts__person=person).distinct().order_by("pk")


def find_latest_case(person: Person) -> Case | None:
    """Return the latest case a person has a part in."""
    return list_cases_of(person).last()
