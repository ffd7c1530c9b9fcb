"""What others ask of the supply app: why a case may not be aired, and what stands on a subject."""

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Q, QuerySet

from helpdesk.cases.models import Case
from helpdesk.diagnosis.models import Verdict
from helpdesk.supply.conditions import list_needs
from helpdesk.supply.models import NothingAdverse, Remark, Statement, Subject, SubjectCase
from helpdesk.supply.names import fold, is_name, pattern_of

# Faults that say something of whoever made or sold the thing (judgement of the desk).
ADVERSE_FAULTS = frozenset(
    {"filament-poor-batch", "filament-diameter-off", "nozzle-defective-part"}
)
WITH_SUBJECT = ("subject__parent__parent",)


@dataclass(frozen=True)
class Mention:
    """Something that stands on a subject which is mentioned; `kind` is correction or reply."""

    subject: str
    kind: str
    text: str
    url: str
    date: datetime.date
    episode_number: int | None = None
    second: int | None = None


def list_blocks(case: Case) -> list[str]:
    """Return, in sentences, why a case may not be aired yet as to what it says of others."""
    return blocks_of([case.pk])[case.pk]


def blocks_of(case_ids: Iterable[int]) -> dict[int, list[str]]:
    """Return the blocks of many cases, each with a list, in as many queries as for one.

    A statement on a case joined to another keeps that one back too: they are one print.
    """
    ids = list(dict.fromkeys(case_ids))
    blocks: dict[int, list[str]] = {case_id: [] for case_id in ids}
    stated: set[int | None] = set()
    about = Statement.objects.filter(Q(case__in=ids) | Q(case__joined_to__in=ids))
    for statement in with_evidence(about):
        needs = list_needs(statement)
        kept_back = {statement.case_id, statement.case.joined_to_id if statement.case else None}
        stated |= kept_back
        for case_id in kept_back:
            if case_id in blocks:
                blocks[case_id] += needs
    for case_id, names in _named_without_statement(ids, stated).items():
        blocks[case_id].append(
            f"The verdict of this case names a maker: {', '.join(names)}. Write what will be said "
            "and ask for a reply, or note that nothing adverse will be said."
        )
    return blocks


def list_mentions(texts: Sequence[str]) -> list[Mention]:
    """Return the standing corrections and replies on subjects named in the texts, latest first."""
    return mentions_of([texts])[0]


def mentions_of(groups: Sequence[Sequence[str]]) -> list[list[Mention]]:
    """Return what `list_mentions` gives for each group of texts, in as many queries as for one."""
    folded = ["\n".join(fold(text) for text in texts) for texts in groups]
    if not any(folded):
        return [[] for _ in groups]
    standing = list(
        Remark.objects.filter(withdrawn_at__isnull=True)
        .select_related(*WITH_SUBJECT)
        .prefetch_related("subject__other_names")
    )
    subjects = {remark.subject_id: remark.subject for remark in standing}
    found = []
    for said in folded:
        named = {pk for pk, subject in subjects.items() if is_mentioned(subject, said)}
        found.append([_mention(remark) for remark in standing if remark.subject_id in named])
    return found


def is_mentioned(subject: Subject, folded: str) -> bool:
    """Return whether a folded text names a subject by its name or one of its other names."""
    pattern = pattern_of(names_of(subject))
    return bool(pattern and pattern.search(folded))


def names_of(subject: Subject) -> list[str]:
    """Return every name by which a subject is looked for in texts.

    What a product is called means it only after its maker's name ("Fennmoor PLA"), and a lot
    number only where it has a figure in it.
    """
    own = [each.name for each in subject.other_names.all()]
    if subject.parent is None:
        return [subject.name, *own]
    if subject.kind == "batch":
        is_number = any(c.isdigit() for c in subject.name) and len(subject.name) >= 4
        alone = [subject.name] if is_number else []
        return [f"batch {subject.name}", f"lot {subject.name}", *alone, *own]
    alone = [subject.name] if subject.product_kind != "filament" else []
    return [subject.full_name, *alone, *own]


def with_evidence(statements: QuerySet[Statement]) -> QuerySet[Statement]:
    """Return statements with all that decides whether they may be aired, fetched with them."""
    return statements.select_related(*WITH_SUBJECT, "case", "notice").prefetch_related(
        "pictures__photo__case", "requests__mail", "replies", "overrides"
    )


def list_subjects_of(case: Case) -> list[Subject]:
    """Return the subjects a case names."""
    links = SubjectCase.objects.filter(case=case, is_dropped=False)
    return [link.subject for link in links.select_related(*WITH_SUBJECT)]


def adverse_faults_of(case: Case) -> list[str]:
    """Return the confirmed faults of a case that say something of a maker."""
    return sorted(case.verdicts.filter(fault__in=ADVERSE_FAULTS).values_list("fault", flat=True))


def _named_without_statement(ids: Sequence[int], stated: set[int | None]) -> dict[int, list[str]]:
    """Return the names a case's verdict points at, of cases nobody decided anything about."""
    faults: dict[int, set[str]] = {}
    adverse = Verdict.objects.filter(case__in=ids, fault__in=ADVERSE_FAULTS)
    for case_id, fault in adverse.values_list("case", "fault"):
        faults.setdefault(case_id, set()).add(fault)
    undecided = [case_id for case_id in faults if case_id not in stated]
    if not undecided:
        return {}
    subjects: dict[int, dict[int, Subject]] = {}
    links = SubjectCase.objects.filter(case__in=undecided, is_dropped=False)
    for link in links.select_related(*WITH_SUBJECT):
        subjects.setdefault(link.case_id, {})[link.subject_id] = link.subject
    cleared = {row.case_id: row for row in NothingAdverse.objects.filter(case__in=undecided)}
    makers = dict(Case.objects.filter(pk__in=undecided).values_list("pk", "material_maker"))
    found = {}
    for case_id in undecided:
        known = subjects.get(case_id, {})
        names = [subject.full_name for subject in known.values()]
        if not names and is_name(makers.get(case_id, "")):
            names = [makers[case_id]]  # named in the report, though no subject is linked yet
        if names and not _covers(cleared.get(case_id), faults[case_id], set(known)):
            found[case_id] = names
    return found


def _covers(decision: NothingAdverse | None, faults: set[str], subjects: set[int]) -> bool:
    """Return whether a decision was made knowing these faults and subjects."""
    return (
        decision is not None
        and faults <= set(decision.faults)
        and subjects <= set(decision.subjects)
    )


def _mention(remark: Remark) -> Mention:
    return Mention(
        subject=remark.subject.full_name,
        kind=remark.kind,
        text=remark.text,
        url=remark.get_absolute_url(),
        date=remark.on_date,
        episode_number=remark.episode_number,
        second=remark.second,
    )
