"""Subjects: write them down, link them with the cases that name them, keep what was done."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import IntegrityError, transaction

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.cases.services import DESK, record_event
from helpdesk.core import clock
from helpdesk.diagnosis.selectors import get_view
from helpdesk.supply.errors import RefusedWordsError
from helpdesk.supply.models import (
    Entry,
    ProductKind,
    Subject,
    SubjectCase,
    SubjectKind,
    SubjectName,
)
from helpdesk.supply.names import NAME_CHARS, fold, is_name

BATCH = 1000  # links written at once
# What a subject may stand below.
PARENTS: dict[str, tuple[str, ...]] = {
    SubjectKind.MAKER: (),
    SubjectKind.SELLER: (),
    SubjectKind.PRODUCT: (SubjectKind.MAKER,),
    SubjectKind.BATCH: (SubjectKind.PRODUCT, SubjectKind.MAKER),
}


@dataclass(frozen=True, kw_only=True)
class SubjectFacts:
    """What is known of a subject; other names come one to an entry."""

    kind: str
    name: str
    product_kind: str = ""
    parent: Subject | None = None
    other_names: Sequence[str] = ()
    contact_name: str = ""
    contact_email: str = ""
    contact_other: str = ""


@transaction.atomic
def add_subject(facts: SubjectFacts, *, actor: User) -> Subject:
    """Write down a subject; raises RefusedWordsError for a known or misplaced one."""
    subject = Subject(made_at=clock.now())
    _fill(subject, facts)
    _link_printer(subject)
    note_entry(subject, "Written down", actor=actor)
    return subject


@transaction.atomic
def change_subject(subject_id: int, facts: SubjectFacts, *, actor: User) -> Subject:
    """Change a subject; raises RefusedWordsError as for a new one."""
    subject = Subject.objects.select_for_update().get(pk=subject_id)
    if facts.kind != subject.kind and subject.children.exists():
        raise RefusedWordsError("Something stands below it, so it cannot become another kind.")
    before = subject.full_name
    _fill(subject, facts)
    _link_printer(subject)
    renamed = subject.full_name != before
    note_entry(subject, f"Renamed from “{before}”" if renamed else "Changed", actor=actor)
    return subject


def note_entry(subject: Subject, what: str, *, actor: User | None, why: str = "") -> Entry:
    """Write one line of a subject's record."""
    return Entry.objects.create(
        subject=subject,
        what=what[:200],
        why=why,
        actor=actor,
        actor_name=actor.short_name if actor else DESK,
        at=clock.now(),
    )


@transaction.atomic
def link_case(subject: Subject, case: Case, *, actor: User) -> SubjectCase:
    """Keep by hand that a case names a subject; raises RefusedWordsError for an erased case."""
    if case.erased_at:
        raise RefusedWordsError(f"Case {case.pk} was erased at the person’s wish.")
    link, is_new = SubjectCase.objects.get_or_create(
        subject=subject, case=case, defaults={"is_by_hand": True, "noted_at": clock.now()}
    )
    if not is_new and not link.is_dropped:
        return link
    link.is_by_hand, link.is_dropped = True, False
    link.save(update_fields=["is_by_hand", "is_dropped"])
    note_entry(subject, f"Case {case.pk} names it", actor=actor)
    record_event(case, kind="supply", what=f"Names {subject.full_name}", actor=actor)
    return link


@transaction.atomic
def drop_link(subject: Subject, case: Case, *, actor: User) -> None:
    """Take away that a case names a subject; the desk does not link the two again by itself."""
    links = SubjectCase.objects.filter(subject=subject, case=case, is_dropped=False)
    if links.update(is_dropped=True, is_by_hand=True):
        note_entry(subject, f"Case {case.pk} does not name it", actor=actor)
        record_event(case, kind="supply", what=f"Does not name {subject.full_name}", actor=actor)


@transaction.atomic
def note_subjects(case_id: int) -> list[Subject]:
    """Link a case with what its facts name: the batch, else the product, else the maker.

    What its words alone say of maker and material counts where the case's fields are empty. What
    somebody linked or took away by hand stays. Safe to run again.
    """
    case = Case.objects.filter(pk=case_id, erased_at__isnull=True).first()
    if case is None:
        return []
    named = [each for each in (_named_material(case), _named_printer(case)) if each]
    for subject in named:
        SubjectCase.objects.get_or_create(
            subject=subject, case=case, defaults={"noted_at": clock.now()}
        )
    stale = SubjectCase.objects.filter(case=case, is_by_hand=False)
    stale.exclude(subject__in=named).delete()
    return named


def _named_material(case: Case) -> Subject | None:
    """Return the batch, product or maker a case's facts name, made where it is new."""
    view = get_view(case)
    read = {fact.field: fact.value for fact in (view.facts if view else ())}
    maker_name = case.material_maker or str(read.get("material_maker", ""))
    material = case.material or str(read.get("material", ""))
    if not is_name(maker_name):
        return None
    found = _find_or_make(SubjectKind.MAKER, maker_name, None)
    if is_name(material):
        found = _find_or_make(SubjectKind.PRODUCT, material, found, ProductKind.FILAMENT)
    if is_name(case.batch):
        found = _find_or_make(SubjectKind.BATCH, case.batch, found)
    return found


def _named_printer(case: Case) -> Subject | None:
    """Return the printer of a case if somebody wrote it down as a subject; none is made."""
    key = fold(case.machine)
    if not key:
        return None
    printers = Subject.objects.filter(product_kind=ProductKind.PRINTER).select_related("parent")
    every = printers.prefetch_related("other_names")
    return next((printer for printer in every if key in _keys_of(printer)), None)


def _link_printer(subject: Subject) -> None:
    """Link a printer with the cases that named it before it was written down, or renamed.

    A share counts of how many the desk knows, so none of them may be missing. What somebody
    linked or took away by hand stays.
    """
    if subject.product_kind != ProductKind.PRINTER:
        return
    keys = _keys_of(subject)
    given = Case.objects.exclude(machine="").order_by().values_list("machine", flat=True)
    machines = [machine for machine in given.distinct() if fold(machine) in keys]
    cases = Case.objects.filter(machine__in=machines, erased_at__isnull=True)
    by_desk = SubjectCase.objects.filter(subject=subject, is_by_hand=False)
    by_desk.exclude(case__in=cases).delete()
    now = clock.now()
    links = [SubjectCase(subject=subject, case=case, noted_at=now) for case in cases.only("pk")]
    SubjectCase.objects.bulk_create(links, ignore_conflicts=True, batch_size=BATCH)


def _keys_of(printer: Subject) -> set[str]:
    """Return every folded name by which a case may mean a printer."""
    others = {other.name_key for other in printer.other_names.all()}
    return {fold(printer.full_name), printer.name_key} | others


def _find_or_make(kind: str, name: str, parent: Subject | None, product_kind: str = "") -> Subject:
    """Return the subject of a name, also by another name of it, or make it."""
    key = fold(name)
    among = Subject.objects.filter(kind=kind, parent=parent)
    found = among.filter(name_key=key).first() or among.filter(other_names__name_key=key).first()
    if found:
        return found
    made, _ = Subject.objects.get_or_create(
        kind=kind,
        parent=parent,
        name_key=key,
        defaults={
            "name": name.strip()[:NAME_CHARS],
            "product_kind": product_kind,
            "is_from_report": True,
            "made_at": clock.now(),
        },
    )
    return made


def _fill(subject: Subject, facts: SubjectFacts) -> None:
    """Store what is known of a subject, or refuse it with a sentence."""
    _check(subject, facts)
    subject.kind, subject.name, subject.parent = facts.kind, facts.name, facts.parent
    subject.product_kind = facts.product_kind if facts.kind == SubjectKind.PRODUCT else ""
    subject.contact_name = facts.contact_name
    subject.contact_email = facts.contact_email
    subject.contact_other = facts.contact_other
    subject.is_from_report = False
    try:
        with transaction.atomic():
            subject.save()
    except IntegrityError as error:
        raise RefusedWordsError(f"“{subject.full_name}” is written down already.") from error
    subject.other_names.all().delete()
    names = {fold(name): name for name in facts.other_names if fold(name)}
    names.pop(subject.name_key, None)
    SubjectName.objects.bulk_create(
        SubjectName(subject=subject, name=name, name_key=key) for key, name in names.items()
    )


def _check(subject: Subject, facts: SubjectFacts) -> None:
    if not any(character.isalnum() for character in facts.name):
        raise RefusedWordsError("A name needs at least one letter or figure.")
    if facts.parent and facts.parent.kind not in PARENTS[facts.kind]:
        raise RefusedWordsError(
            f"A {facts.kind} cannot stand below a {facts.parent.kind}: a product stands below its "
            "maker, a batch below its product or maker."
        )
    if facts.kind == SubjectKind.BATCH and facts.parent is None:
        raise RefusedWordsError("Choose the product or the maker this batch is of.")
    if facts.kind == SubjectKind.PRODUCT and not facts.product_kind:
        raise RefusedWordsError("Say what the product is: filament, a bought part or a printer.")
    above = facts.parent
    while above is not None:
        if above.pk == subject.pk:
            raise RefusedWordsError("A subject cannot stand below itself.")
        above = above.parent
