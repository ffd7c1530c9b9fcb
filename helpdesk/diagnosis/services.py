"""Running the engine on a case, and what people say of its findings and faults."""

from collections.abc import Collection, Mapping, Sequence

from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case, Event
from helpdesk.cases.services import PERSON, record_event, set_danger
from helpdesk.core import clock
from helpdesk.core.errors import RefusedInputError
from helpdesk.core.jobs import start_job
from helpdesk.diagnosis.corrections import (
    drop_note,
    find_item,
    keep_correction,
    keep_note,
    learn_from_mark,
)
from helpdesk.diagnosis.engine import (
    EngineResult,
    fault_info,
    find_words,
    finding_info,
    make_ready,
    run_engine,
)
from helpdesk.diagnosis.models import (
    DiagnosisRun,
    FindingMark,
    FindingState,
    MarkSource,
    ReadingKind,
    Respondent,
    Verdict,
)
from helpdesk.diagnosis.selectors import find_latest_run, gather_input

DANGER_NAME_LIMIT = 120
LEAST_MOVE = 0.005  # a smaller change of a probability is not worth a sentence
MOST_FAULTS = 6
MOST_NOTED = 500  # characters of words that are noted


@transaction.atomic
def describe_respondent(
    case: Case,
    *,
    has_print: bool,
    has_printer: bool,
    sends_photos: bool,
    refused_tools: Sequence[str],
    actor: User,
) -> DiagnosisRun:
    """Keep what the person who would be asked can answer, and choose questions anew."""
    locked = Case.objects.select_for_update().get(pk=case.pk)
    values = {
        "has_print": has_print,
        "has_printer": has_printer,
        "sends_photos": sends_photos,
        "refused_tools": sorted(set(refused_tools)),
    }
    Respondent.objects.update_or_create(case=locked, defaults=values)
    record_event(
        locked,
        kind="respondent",
        what="Noted what the person can look at",
        actor=actor,
        data=values,
    )
    return _run(locked, cause="what the person can look at")


def diagnose_case(case_id: int, *, cause: str) -> DiagnosisRun:
    """Run the engine on everything known of a case and keep what it says.

    Safe to repeat: a run that would say the same as the latest is not stored again.
    """
    make_ready()
    with transaction.atomic():
        case = Case.objects.select_for_update().get(pk=case_id)
        return _run(case, cause=cause)


@transaction.atomic
def mark_finding(
    case: Case,
    finding: str,
    state: str,
    *,
    actor: User | None = None,
    source: str = MarkSource.REVIEWER,
) -> DiagnosisRun:
    """Set a finding, think again at once and note what that moved.

    Raises UnknownThingError or RefusedInputError for a finding or state there is not.
    """
    info = finding_info(finding)
    if state not in FindingState.values:
        raise RefusedInputError("A finding is present, absent or unknown.")
    # The row lock makes two marks at once follow each other, so the later run knows both.
    locked = Case.objects.select_for_update().get(pk=case.pk)
    before = find_latest_run(locked)
    known = locked.finding_marks.filter(finding=finding).first()
    if known and source == MarkSource.PERSON and state == FindingState.UNKNOWN:
        return before or _run(locked, cause=f"{info.name}: unknown")
    if before and known and (known.state, known.source) == (state, source):
        return before
    FindingMark.objects.update_or_create(
        case=locked,
        finding=finding,
        defaults={"state": state, "source": source, "set_by": actor, "set_at": clock.now()},
    )
    if actor is not None:
        learn_from_mark(locked, finding, state, actor)
    run = _run(locked, cause=f"{info.name}: {state}"[:120])
    record_event(
        locked,
        kind="finding",
        what=f"{info.name}: {state}",
        why=_say_move(before, run),
        actor=actor,
        actor_name=PERSON if source == MarkSource.PERSON else "",
        data={"finding": finding, "state": state, "source": source},
    )
    _copy_back(case, locked)
    return run


@transaction.atomic
def correct_reading(
    case: Case, kind: str, name: str, *, is_right: bool, actor: User
) -> DiagnosisRun:
    """Say that something was misread, or read rightly after all, and think again at once.

    What was misread no longer counts. Raises RefusedInputError for what is not read in this case.
    """
    locked = Case.objects.select_for_update().get(pk=case.pk)
    item = find_item(locked, kind, name)
    if item is None or kind not in ReadingKind.values:
        raise RefusedInputError("The desk reads nothing of that kind in this case now.")
    if kind == ReadingKind.FINDING:
        state = item.kind if is_right else FindingState.UNKNOWN
        return mark_finding(case, name, state, actor=actor)
    before = find_latest_run(locked)
    known = locked.reading_corrections.filter(kind=kind, name=name, is_missed=False).first()
    if before and known and known.is_right == is_right:
        return before
    keep_correction(locked, item, is_right=is_right, actor=actor)
    what = f"{'Read rightly' if is_right else 'Misread'}: {item.subject}"
    run = _think_again(locked, before, what=what, actor=actor, data={"kind": kind, "name": name})
    _copy_back(case, locked)
    return run


@transaction.atomic
def note_reading(case: Case, finding: str, state: str, *, words: str, actor: User) -> DiagnosisRun:
    """Note that a person's words speak of a finding, which then counts as if it had been read.

    Raises UnknownThingError for a finding there is not, RefusedInputError for another state or
    for words that do not stand in the case.
    """
    info = finding_info(finding)
    if state not in (FindingState.PRESENT, FindingState.ABSENT):
        raise RefusedInputError("Words say of a finding that it is present or absent.")
    if len(words) > MOST_NOTED:
        raise RefusedInputError(f"Please mark {MOST_NOTED} characters at most.")
    locked = Case.objects.select_for_update().get(pk=case.pk)
    text = gather_input(locked).text
    place = find_words(text, words)
    if place is None:
        raise RefusedInputError("These words do not stand in the report or the replies.")
    before = find_latest_run(locked)
    quote = text[slice(*place)]
    keep_note(locked, finding, state, place=place, quote=quote, actor=actor)
    what = f"Noted in their words: {info.name}, {state}"
    run = _think_again(locked, before, what=what, actor=actor, data={"finding": finding})
    _copy_back(case, locked)
    return run


@transaction.atomic
def take_back_note(case: Case, finding: str, *, actor: User) -> DiagnosisRun:
    """Take back what was noted of a finding; nothing happens when nothing was.

    Raises UnknownThingError for a finding there is not.
    """
    info = finding_info(finding)
    locked = Case.objects.select_for_update().get(pk=case.pk)
    before = find_latest_run(locked)
    if not drop_note(locked, finding):
        return before or _run(locked, cause=info.name)
    what = f"Taken back what was noted: {info.name}"
    run = _think_again(locked, before, what=what, actor=actor, data={"finding": finding})
    _copy_back(case, locked)
    return run


@transaction.atomic
def keep_details(
    case: Case, *, said: Mapping[str, str], withdrawn: Collection[str]
) -> Event | None:
    """Keep what a person said of findings while writing; the next run counts it.

    `said` holds a state by finding, `withdrawn` the findings they say were misread. What a
    reviewer set stays. Returns None when nothing is new, else the event.
    """
    set_by_desk = set(
        case.finding_marks.filter(source=MarkSource.REVIEWER).values_list("finding", flat=True)
    )
    wanted = {name: (state, MarkSource.PERSON) for name, state in said.items()}
    wanted |= dict.fromkeys(withdrawn, (FindingState.UNKNOWN, MarkSource.MISREAD))
    known = {mark.finding: (mark.state, mark.source) for mark in case.finding_marks.all()}
    new = {
        name: mark
        for name, mark in wanted.items()
        if name not in set_by_desk and known.get(name) != mark
    }
    if not new:
        return None
    for name, (state, source) in new.items():
        values = {"state": state, "source": source, "set_by": None, "set_at": clock.now()}
        FindingMark.objects.update_or_create(case=case, finding=name, defaults=values)
        if source == MarkSource.MISREAD:
            item = find_item(case, ReadingKind.FINDING, name)
            if item:
                keep_correction(case, item, is_right=False, actor=None)
    words = [
        f"{finding_info(name).name}: {'not so' if source == MarkSource.MISREAD else state}"
        for name, (state, source) in new.items()
    ]
    return record_event(
        case,
        kind="details",
        what=f"Said while writing: {len(words)}",
        why="; ".join(words),
        actor_name=PERSON,
        data={"marks": {name: state for name, (state, _) in new.items()}},
    )


def erase_corrections(case: Case) -> None:
    """Remove a person's words from what was said of readings; the judgement stays."""
    case.reading_corrections.update(quote="", start=None, end=None)


@transaction.atomic
def set_verdict(case: Case, fault_ids: Sequence[str], *, actor: User) -> list[Verdict]:
    """Confirm the faults of a case, first the main one; an empty list takes the verdict back.

    Raises UnknownThingError for a fault there is not, RefusedInputError for too many.
    """
    chosen = list(dict.fromkeys(fault_ids))
    if len(chosen) > MOST_FAULTS:
        raise RefusedInputError(f"A verdict names at most {MOST_FAULTS} faults.")
    infos = [fault_info(fault) for fault in chosen]
    locked = Case.objects.select_for_update().get(pk=case.pk)
    if list(locked.verdicts.values_list("fault", flat=True)) == chosen:
        return list(locked.verdicts.all())
    locked.verdicts.all().delete()
    places = _places(find_latest_run(locked))
    now = clock.now()
    verdicts = [
        Verdict.objects.create(
            case=locked,
            fault=info.id,
            fault_name=info.name,
            position=position,
            desk_place=places.get(info.id),
            set_by=actor,
            set_at=now,
        )
        for position, info in enumerate(infos)
    ]
    names = "; ".join(info.name for info in infos)
    event = record_event(
        locked,
        kind="verdict",
        what=f"Verdict: {names}" if names else "Verdict taken back",
        actor=actor,
        data={"faults": chosen},
        at=now,
    )
    _index(locked, f"verdict:{event.pk}")
    return verdicts


def _places(run: DiagnosisRun | None) -> Mapping[str, int]:
    """Return the place of each fault a run ranks, the leading one in place 1."""
    ranking = run.result["ranking"] if run else ()
    return {row[0]: place for place, row in enumerate(ranking, start=1)}


def _think_again(
    case: Case, before: DiagnosisRun | None, *, what: str, actor: User, data: Mapping[str, str]
) -> DiagnosisRun:
    """Run the engine after a correction of a reading, and note what that moved."""
    run = _run(case, cause=what[:120])
    record_event(
        case, kind="reading", what=what[:200], why=_say_move(before, run), actor=actor, data=data
    )
    return run


def _run(case: Case, *, cause: str) -> DiagnosisRun:
    """Run the engine on a locked case, keep the run and copy its head to the case."""
    result = run_engine(gather_input(case))
    latest = find_latest_run(case)
    is_same = (
        latest is not None
        and latest.knowledge_version == result.knowledge_version
        and latest.result == result.data
    )
    if latest is None or not is_same:
        latest = DiagnosisRun.objects.create(
            case=case,
            knowledge_version=result.knowledge_version,
            revision=result.revision,
            made_at=clock.now(),
            cause=cause[:120],
            result=result.data,
        )
    _copy_head(case, latest, result)
    # What its words say of maker and material is known only now.
    start_job(
        "note-subjects",
        key=f"note-subjects:{case.pk}:{case.version}:{latest.pk}",
        payload={"case": case.pk},
    )
    return latest


def _copy_head(case: Case, run: DiagnosisRun, result: EngineResult) -> None:
    """Copy the strongest suspicion and the danger to the case for the queue."""
    head = {
        "top_fault": result.top_fault,
        "top_fault_name": result.top_fault_name[:120],
        "top_probability": result.top_probability,
    }
    if case.top_fault != result.top_fault:
        _index(case, f"run:{run.pk}")
    for name, value in head.items():
        setattr(case, name, value)
    case.save(update_fields=list(head))
    danger = "; ".join(result.danger_names)[:DANGER_NAME_LIMIT]
    set_danger(case, danger if not case.erased_at else "")


def _copy_back(case: Case, locked: Case) -> None:
    """Let the caller's object show what was saved through the locked one."""
    for name in ("top_fault", "top_fault_name", "top_probability", "danger_name", "queue_rank"):
        setattr(case, name, getattr(locked, name))


def _index(case: Case, what: str) -> None:
    """Ask for the case to be indexed anew."""
    start_job("index-case", key=f"index-case:{case.pk}:{what}", payload={"case": case.pk})


def _say_move(before: DiagnosisRun | None, after: DiagnosisRun) -> str:
    """Return the largest change of a probability between two runs as a sentence, or ""."""
    if before is None:
        return ""
    old, new = _chances(before), _chances(after)
    names = {row[0]: row[1] for run in (before, after) for row in run.result["ranking"]}
    moves = {name: new.get(name, 0.0) - old.get(name, 0.0) for name in names}
    if not moves:
        return ""
    most = max(moves, key=lambda name: abs(moves[name]))
    if abs(moves[most]) < LEAST_MOVE:
        return "No suspicion moved."
    verb = "rose" if moves[most] > 0 else "fell"
    was, now = (round(100 * chances.get(most, 0.0)) for chances in (old, new))
    return f"{names[most]} {verb} from {was}% to {now}%."


def _chances(run: DiagnosisRun) -> Mapping[str, float]:
    """Return the probability of each fault in a stored run."""
    return {row[0]: row[2] for row in run.result["ranking"]}
