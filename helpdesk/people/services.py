"""Tell who a case is from, make two people one or take them apart, forget somebody."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.db import IntegrityError, transaction

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.core import clock
from helpdesk.people.errors import LastContactError, NotMergeableError
from helpdesk.people.given import Given, list_all_given, list_given, list_given_link
from helpdesk.people.models import Contact, Merge, Part, Person, Role, Verified

OWN_ROLES = (Role.SUBMITTER, Role.OWNER)
PASSING_ON_ROLES = (Role.SUBMITTER, Role.FINDER)
FILLED = ("name", "said_as", "credit_kind", "notes")


@transaction.atomic
def note_people(case_id: int) -> Sequence[Part]:
    """Link a case with who sent it, whose print it is and who found it; safe to run twice.

    The same mail address, or the same handle in the same place, is the same person. The same name
    alone never is.
    """
    case = Case.objects.select_for_update().filter(pk=case_id, erased_at__isnull=True).first()
    if case is None:
        return ()
    roles = OWN_ROLES if case.is_own_print else PASSING_ON_ROLES
    parts = _note_person(case, roles, name=case.person_name, given=list_given(case))
    if not case.is_own_print:
        link = list_given_link(case)
        parts += _note_person(case, (Role.OWNER,), name=case.owner_name, given=link)
    return parts


@transaction.atomic
def change_person(person: Person, values: Mapping[str, Any]) -> Person:
    """Change how a person is called, said and credited, and what is noted of them."""
    for name in FILLED:
        if name in values:
            setattr(person, name, values[name])
    person.full_clean(exclude=["merged_into"])
    person.save(update_fields=list(FILLED))
    return person


@transaction.atomic
def credit_owner(part: Part, *, kind: str, name: str) -> Part:
    """Keep how the owner of a print that was passed on wants to be named."""
    part.credit_kind, part.credit_as = kind, name
    part.full_clean(exclude=["person", "case", "via"])
    part.save(update_fields=["credit_kind", "credit_as"])
    return part


@transaction.atomic
def check_contact(contact: Contact) -> Contact:
    """Note that somebody of the desk made sure an address is the person's."""
    contact.verified = Verified.CHECKED
    contact.save(update_fields=["verified"])
    return contact


@transaction.atomic
def merge_people(kept_id: int, gone_id: int, *, by: User) -> Merge:
    """Make two people one; what the kept one lacks is taken from the other.

    Raises NotMergeableError when they are one already.
    """
    kept, gone = _lock(kept_id, gone_id)
    if kept.pk == gone.pk or kept.merged_into_id or gone.merged_into_id:
        raise NotMergeableError("These two are one person already.")
    before = {name: getattr(kept, name) for name in FILLED}
    after = {name: before[name] or getattr(gone, name) for name in FILLED}
    if kept.notes and gone.notes:
        after["notes"] = f"{kept.notes}\n\n{gone.notes}"
    merge = Merge.objects.create(
        kept=kept,
        gone=gone,
        contacts=list(gone.contacts.values_list("pk", flat=True)),
        parts=list(gone.parts.values_list("pk", flat=True)),
        before=before,
        after=after,
        by=by,
        at=clock.now(),
    )
    _move(merge.contacts, merge.parts, source=gone, target=kept)
    change_person(kept, after)
    gone.merged_into = kept
    gone.save(update_fields=["merged_into"])
    return merge


@transaction.atomic
def undo_merge(merge_id: int) -> Merge:
    """Make two people of one again, each with what they had before.

    What came to the kept one since, or was changed by hand, stays as it is. Raises
    NotMergeableError when it was undone already or a later merge has to be undone first.
    """
    merge = Merge.objects.select_for_update().get(pk=merge_id)
    kept, gone = _lock(merge.kept_id, merge.gone_id)
    if merge.undone_at:
        raise NotMergeableError("This was undone already.")
    if kept.merged_into_id:
        raise NotMergeableError("Undo the later merge first: this person is another one by now.")
    _move(merge.contacts, merge.parts, source=kept, target=gone)
    change_person(
        kept,
        {n: merge.before[n] for n in FILLED if getattr(kept, n) == merge.after[n]},
    )
    gone.merged_into = None
    gone.save(update_fields=["merged_into"])
    merge.undone_at = clock.now()
    merge.save(update_fields=["undone_at"])
    return merge


@transaction.atomic
def split_contact(contact_id: int, *, name: str = "") -> Person:
    """Make a person of their own of an address, with the cases that came by it.

    Raises LastContactError when nothing would be left of the person it is taken from.
    """
    contact = Contact.objects.select_for_update().get(pk=contact_id)
    old = Person.objects.select_for_update().get(pk=contact.person_id)
    parts = old.parts.filter(via=contact)
    has_more = (
        old.contacts.exclude(pk=contact.pk).exists() or old.parts.exclude(via=contact).exists()
    )
    if not has_more:
        raise LastContactError("This is all there is of this person; there is nobody to part.")
    latest = parts.select_related("case").order_by("-case_id").first()
    said = latest.case.person_name if latest and latest.role != Role.OWNER else ""
    new = Person.objects.create(name=name or said, first_seen_at=clock.now())
    parts.update(person=new)
    contact.person = new
    contact.save(update_fields=["person"])
    return new


@transaction.atomic
def forget_parts(case: Case) -> None:
    """Take a case from its people; who is left without one is forgotten altogether."""
    people = list(Person.objects.filter(parts__case=case).distinct())
    case.parts.all().delete()
    for person in people:
        tidy_person(person, forgotten={case.person_name, case.owner_name} - {""})


@transaction.atomic
def tidy_person(person: Person, *, forgotten: Iterable[str] = ()) -> None:
    """Remove of a person what none of their cases holds any more, or all when there is none.

    `forgotten` are names that a case removed just now held.
    """
    cases = list(Case.objects.filter(parts__person=person).distinct().order_by("-pk"))
    _forget_merged(person, set(forgotten))
    if not cases:
        person.delete()
        return
    given = {(g.kind, g.key, g.place_key) for case in cases for g in list_all_given(case)}
    for contact in person.contacts.all():
        if (contact.kind, contact.key, contact.place_key) not in given:
            contact.delete()
    names = _names_in(person, cases)
    if person.name in forgotten and person.name not in names:
        person.name = next(iter(names), "")
        person.said_as = ""
        person.save(update_fields=["name", "said_as"])


def _forget_merged(person: Person, forgotten: set[str]) -> None:
    """Remove who was merged into a person and has no case left, and names kept for an undo."""
    person.merges.filter(undone_at__isnull=False).delete()
    for merge in person.merges.select_related("gone"):
        if not Part.objects.filter(pk__in=merge.parts).exists():
            merge.gone.delete()
            continue
        for fields in (merge.before, merge.after):
            if fields.get("name") in forgotten:
                fields["name"] = fields["said_as"] = ""
        merge.save(update_fields=["before", "after"])


def _names_in(person: Person, cases: Iterable[Case]) -> list[str]:
    """Return the names a person's cases call them by, the latest first."""
    owned = set(person.parts.filter(role=Role.OWNER).values_list("case", flat=True))
    names = [
        case.owner_name if case.pk in owned and not case.is_own_print else case.person_name
        for case in cases
    ]
    return [name for name in names if name]


def _note_person(
    case: Case, roles: Sequence[str], *, name: str, given: Sequence[Given]
) -> list[Part]:
    """Return a case's parts in these roles, all of one person."""
    known = case.parts.filter(role__in=roles).select_related("person").first()
    if not known and not name and not given:
        return []
    person = known.person if known else _find_person(given)
    if person is None:
        person = Person.objects.create(name=name, first_seen_at=case.opened_at)
    elif not person.name and name:
        change_person(person, {"name": name})
    contacts = [_note_contact(person, address) for address in given]
    via = next((c for c in contacts if c.person_id == person.pk), None)
    return [
        Part.objects.get_or_create(case=case, role=role, defaults={"person": person, "via": via})[0]
        for role in roles
    ]


def _find_person(given: Iterable[Given]) -> Person | None:
    """Return whose one of the addresses is, or None when nobody is known by any."""
    for address in given:
        if address.tells_who and (contact := _find_contact(address)):
            return contact.person
    return None


def _find_contact(address: Given) -> Contact | None:
    """Return the contact of an address that tells who it is."""
    return (
        Contact.objects.filter(kind=address.kind, key=address.key, place_key=address.place_key)
        .select_related("person")
        .first()
    )


def _note_contact(person: Person, address: Given) -> Contact:
    """Return the contact of an address; somebody else's stays theirs."""
    known = (
        _find_contact(address)
        if address.tells_who
        else person.contacts.filter(kind=address.kind, key=address.key).first()
    )
    if known is None:
        known = _make_contact(person, address)
    if known.verified == Verified.SAID and address.verified == Verified.WROTE:
        known.verified = Verified.WROTE
        known.save(update_fields=["verified"])
    return known


def _make_contact(person: Person, address: Given) -> Contact:
    """Write a contact; when another process wrote the same one just now, return that."""
    try:
        with transaction.atomic():
            return Contact.objects.create(
                person=person,
                kind=address.kind,
                value=address.value,
                key=address.key,
                place=address.place,
                place_key=address.place_key,
                verified=address.verified,
                noted_at=clock.now(),
            )
    except IntegrityError:
        found = _find_contact(address)
        if found is None:
            raise
        return found


def _lock(*ids: int) -> list[Person]:
    """Return people for writing, in the order asked; locked in one order, so that none waits."""
    found = {p.pk: p for p in Person.objects.select_for_update().filter(pk__in=ids).order_by("pk")}
    return [found[pk] for pk in ids]


def _move(contacts: Iterable[int], parts: Iterable[int], *, source: Person, target: Person) -> None:
    Contact.objects.filter(pk__in=contacts, person=source).update(person=target)
    Part.objects.filter(pk__in=parts, person=source).update(person=target)
