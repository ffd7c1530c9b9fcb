"""What shows and cases are about: faults, their families, processes, printers, materials."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Count, Exists, OuterRef, QuerySet

from helpdesk.cases.models import Case, Process
from helpdesk.diagnosis.engine import fault_info
from helpdesk.diagnosis.errors import UnknownThingError
from helpdesk.diagnosis.models import Verdict

NO_FAMILY = "other"
Counts = Mapping[str, int]


@dataclass(frozen=True)
class Counted:
    """How many cases there are of each thing: settled by a reviewer, or only suspected."""

    settled: Counts
    suspected: Counts

    def total(self, name: str) -> int:
        """Return all the cases of a thing."""
        return self.settled.get(name, 0) + self.suspected.get(name, 0)


@dataclass(frozen=True)
class Subject:
    """Something a table goes by; `of` gives what one case is about, `count` counts the cases."""

    key: str
    label: str
    of: Callable[[Case], Sequence[str]]
    count: Callable[[QuerySet[Case]], Counted]
    name: Callable[[str], str]


def faults_of(case: Case) -> list[str]:
    """Return the faults confirmed for a case, or else the strongest suspicion.

    Uses `case.verdicts` as prefetched.
    """
    confirmed = [verdict.fault for verdict in case.verdicts.all()]
    return confirmed or ([case.top_fault] if case.top_fault else [])


def name_fault(fault: str) -> str:
    """Return a fault's name; one the knowledge no longer has keeps its id."""
    try:
        return fault_info(fault).name
    except UnknownThingError:
        return fault


def family_of(fault: str) -> str:
    """Return the family a fault belongs to."""
    try:
        return fault_info(fault).family or NO_FAMILY
    except UnknownThingError:
        return NO_FAMILY


def name_process(process: str) -> str:
    """Return a process in words."""
    return Process(process).label if process in Process.values else process


def _count_faults(cases: QuerySet[Case]) -> Counted:
    """Count verdicts; cases without one count by their strongest suspicion."""
    confirmed = Verdict.objects.filter(case__in=cases.order_by().values("pk"))
    settled = confirmed.order_by().values_list("fault").annotate(n=Count("case", distinct=True))
    open_ones = cases.filter(~Exists(Verdict.objects.filter(case=OuterRef("pk"))))
    suspected = open_ones.exclude(top_fault="").order_by()
    return Counted(dict(settled), dict(suspected.values_list("top_fault").annotate(n=Count("pk"))))


def _count_families(cases: QuerySet[Case]) -> Counted:
    """Count cases by family; one with two faults of a family counts once for each fault."""
    counted = _count_faults(cases)
    return Counted(_by_family(counted.settled), _by_family(counted.suspected))


def _by_family(counts: Counts) -> Counts:
    found: Counter[str] = Counter()
    for fault, count in counts.items():
        found[family_of(fault)] += count
    return found


def _count_field(field: str) -> Callable[[QuerySet[Case]], Counted]:
    """Return what counts cases by one of their facts."""

    def count(cases: QuerySet[Case]) -> Counted:
        rows = cases.exclude(**{field: ""}).order_by().values_list(field).annotate(n=Count("pk"))
        return Counted(dict(rows), {})

    return count


def _fact(field: str) -> Callable[[Case], Sequence[str]]:
    """Return what gives one fact of a case."""
    return lambda case: [value] if (value := getattr(case, field)) else []


def _same(name: str) -> str:
    return name


def _families_of(case: Case) -> list[str]:
    return _once(family_of(fault) for fault in faults_of(case))


def _once(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(names))


SUBJECTS = (
    Subject("fault", "Fault", faults_of, _count_faults, name_fault),
    Subject("family", "Family of faults", _families_of, _count_families, _same),
    Subject("material", "Material", _fact("material"), _count_field("material"), _same),
    Subject("machine", "Printer", _fact("machine"), _count_field("machine"), _same),
    Subject("process", "Process", _fact("process"), _count_field("process"), name_process),
)


def get_subject(key: str) -> Subject:
    """Return a subject by its key; the first one for an unknown key."""
    return next((subject for subject in SUBJECTS if subject.key == key), SUBJECTS[0])
