"""Many made-up cases, to measure pages with; written in bulk, past the services."""

import datetime
import itertools
from collections.abc import Callable, Iterator

from django.db import transaction

from helpdesk.cases.models import Case, CaseState, Channel, Process, QueueRank, Report
from helpdesk.core import clock
from helpdesk.search.models import SearchEntry

BATCH = 2000
OPEN_SHARE = 50  # one case in so many is open
MACHINES = ("Tern 220", "Corvid C1", "Plover Mini", "Siskin R4")
MATERIALS = ("PLA", "PETG", "ABS", "TPU", "ASA", "resin")
THINGS = (
    "rook",
    "vase",
    "tray",
    "lamp",
    "bowl",
    "bracket",
    "hinge",
    "gear",
    "planter",
    "whistle",
    "mask",
    "stand",
)
TROUBLES = (
    "stepped sideways at one height",
    "corners curl up from the plate",
    "hairs between the towers",
    "thin walls with gaps",
    "rough underside where it overhangs",
    "one dark ring all round",
    "layers split when squeezed",
    "top face full of small holes",
)
FAULTS = (
    ("pulley-loose", "Pulley slips on its shaft"),
    ("shrinkage-warp", "Corners lift as the material shrinks"),
    ("filament-wet", "Filament has taken up water"),
    ("hotend-clog-partial", "Nozzle partly blocked"),
    ("overhang-unsupported", "Overhang too steep without support"),
    ("section-change-line", "Line round the part where the section changes"),
    ("nozzle-temperature-too-low", "Nozzle too cold for the speed and material"),
    ("top-layers-too-few", "Too few top layers or too sparse infill"),
)


def make_cases(count: int, tell: Callable[[int], None]) -> None:
    """Write `count` further cases with their reports and search entries, the same each time."""
    now = clock.now()
    start = Case.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    numbers = iter(range(start + 1, start + count + 1))
    done = 0
    while batch := list(itertools.islice(numbers, BATCH)):
        _write(batch, now)
        done += len(batch)
        tell(done)


@transaction.atomic
def _write(numbers: list[int], now: datetime.datetime) -> None:
    """Write one batch in one transaction."""
    cases = Case.objects.bulk_create(_case(n, now) for n in numbers)
    Report.objects.bulk_create(
        Report(
            case=case,
            channel=case.channel,
            story=_story(n),
            received_at=case.opened_at,
            submission_key=f"load:{n}",
        )
        for n, case in zip(numbers, cases, strict=True)
    )
    SearchEntry.objects.bulk_create(_entries(numbers, cases, now))


def _case(n: int, now: datetime.datetime) -> Case:
    """Return case number n, its values spread by arithmetic on n."""
    is_open = n % OPEN_SHARE == 0
    states = (CaseState.RECEIVED, CaseState.ASKED, CaseState.ANSWERED)
    state = states[n // OPEN_SHARE % 3] if is_open else CaseState.CLOSED
    ranks = {
        CaseState.RECEIVED: QueueRank.OURS,
        CaseState.ASKED: QueueRank.THEIRS,
        CaseState.ANSWERED: QueueRank.ANSWERED,
        CaseState.CLOSED: QueueRank.CLOSED,
    }
    fault, name = FAULTS[n % len(FAULTS)]
    opened = now - datetime.timedelta(minutes=11 * (n % 50_000), seconds=n % 60)
    return Case(
        title=_title(n),
        state=state,
        opened_at=opened,
        waiting_since=opened,
        closed_at=None if is_open else opened,
        queue_rank=ranks[state],
        channel=Channel.values[n % len(Channel.values)],
        process=Process.VPP if n % 6 == 5 else Process.MEX,
        machine=MACHINES[n % len(MACHINES)],
        material=MATERIALS[n % len(MATERIALS)],
        person_name=f"Visitor {n}",
        top_fault=fault,
        top_fault_name=name,
        top_probability=0.2 + (n % 70) / 100,
    )


def _title(n: int) -> str:
    """Return a title that differs from most others."""
    return f"{THINGS[n % len(THINGS)].capitalize()} {n}: {TROUBLES[n // 3 % len(TROUBLES)]}"


def _story(n: int) -> str:
    """Return a story of some thirty words."""
    other = TROUBLES[(n // 7) % len(TROUBLES)]
    return (
        f"My {THINGS[n % len(THINGS)]} came out wrong: {TROUBLES[n // 3 % len(TROUBLES)]}. "
        f"Last week it was {other}. I use {MATERIALS[n % len(MATERIALS)]} at {190 + n % 70} "
        f"degrees on the {MACHINES[n % len(MACHINES)]}, layer {n % 340}, spool {n % 977}."
    )


def _entries(
    numbers: list[int], cases: list[Case], now: datetime.datetime
) -> Iterator[SearchEntry]:
    """Yield the search entries of a batch."""
    for n, case in zip(numbers, cases, strict=True):
        is_closed = case.state == CaseState.CLOSED
        yield SearchEntry(
            case=case,
            title=case.title,
            story=_story(n),
            answer=f"Most likely: {case.top_fault_name}. Number {n % 977}." if is_closed else "",
            fault=case.top_fault,
            machine=case.machine,
            material=case.material,
            outcome="worked" if is_closed else "",
            indexed_at=now,
        )
