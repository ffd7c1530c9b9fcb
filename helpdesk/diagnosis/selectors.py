"""Reading what the desk and its reviewers make of a case."""

from typing import Any

from django.db.models import QuerySet

from helpdesk.cases.models import Case, MessageKind
from helpdesk.diagnosis.engine import EngineInput, NotedWords, fault_info, weigh_numbers
from helpdesk.diagnosis.models import (
    DiagnosisRun,
    FindingMark,
    FindingState,
    MarkSource,
    ReadingCorrection,
    ReadingKind,
    Respondent,
    Verdict,
)
from helpdesk.diagnosis.values import (
    CaseView,
    CheckView,
    DangerView,
    FactView,
    FindingView,
    ForkView,
    NumberView,
    QuestionView,
    ReadingView,
    ReasonView,
    SetView,
    SpanView,
    StepView,
    SuspectView,
    TurnView,
)

BETWEEN_TEXTS = "\n\n"

__all__ = [
    "CaseView",
    "find_latest_run",
    "gather_input",
    "get_respondent",
    "get_view",
    "list_corrections",
    "list_marks",
    "list_numbers",
    "list_verdicts",
    "view_of_run",
]


def find_latest_run(case: Case) -> DiagnosisRun | None:
    """Return the newest stored run of a case, or None before the first."""
    return case.runs.order_by("-made_at", "-pk").first()


def get_view(case: Case) -> CaseView | None:
    """Return what the latest stored run says, or None before the first; asks no engine."""
    run = find_latest_run(case)
    return view_of_run(run) if run else None


def list_verdicts(case: Case) -> QuerySet[Verdict]:
    """Return the confirmed faults in their order, with who set them."""
    return case.verdicts.select_related("set_by").order_by("position", "pk")


def list_marks(case: Case) -> QuerySet[FindingMark]:
    """Return the findings set by people, in the order they were set."""
    return case.finding_marks.order_by("set_at", "pk")


def list_corrections() -> QuerySet[ReadingCorrection]:
    """Return what somebody said of readings whose words are still kept, oldest first.

    This is what a reader can learn from: the words, what was read in them, and whether rightly.
    """
    kept = ReadingCorrection.objects.exclude(quote="").filter(case__erased_at__isnull=True)
    return kept.select_related("said_by")


def view_of_run(run: DiagnosisRun) -> CaseView:
    """Return a stored run as values for the page."""
    data: dict[str, Any] = run.result
    suspects = tuple(_suspect(entry) for entry in data["suspects"])
    questions = tuple(data["questions"])
    most = max((entry["gain"] for entry in questions), default=0.0) or 1.0
    return CaseView(
        suspects=suspects,
        others=max(0, len(data["ranking"]) - len(suspects)),
        findings=_findings(data),
        spans=tuple(SpanView(**entry) for entry in data["spans"]),
        readings=tuple(_reading(entry) for entry in data["readings"]),
        questions=tuple(
            QuestionView(
                finding=entry["finding"],
                question=entry["question"],
                help=entry["help"],
                gain=entry["gain"],
                minutes=entry["minutes"],
                needs=tuple(entry["needs"]),
                share=entry["gain"] / most,
                # What runs of an earlier shape do not hold.
                kind=entry.get("kind", ""),
                saves=entry.get("saves", 0.0),
                adds=entry.get("adds", 0.0),
                is_together=entry.get("is_together", False),
            )
            for entry in questions
        ),
        plan=tuple(StepView(**entry) for entry in data["plan"]),
        expected_minutes=data["expected_minutes"],
        expected_wait_minutes=data.get("expected_wait_minutes", 0.0),
        expected_money=data.get("expected_money", 0.0),
        last_resort=StepView(**data["last_resort"]) if data.get("last_resort") else None,
        fork=_fork(data.get("fork")),
        sets=tuple(
            SetView(tuple(entry["faults"]), tuple(entry["names"]), entry["probability"])
            for entry in data.get("sets", ())
        ),
        batch_saves=data.get("batch_saves", 0.0),
        batch_costs=data.get("batch_costs", 0.0),
        batch_pays=data.get("batch_pays", False),
        changes=tuple(TurnView(**entry) for entry in data.get("changes", ())),
        doubts=tuple(TurnView(**entry) for entry in data.get("doubts", ())),
        dangers=tuple(
            DangerView(**{**entry, "findings": tuple(entry["findings"])})
            for entry in data["dangers"]
        ),
        facts=tuple(FactView(**entry) for entry in data["facts"]),
        checks=tuple(CheckView(**entry) for entry in data.get("checks", ())),
        notes=tuple(data["notes"]),
        would_change=data["would_change"],
        fits=data["fits"],
        process=data["process"],
        made_at=run.made_at,
        knowledge_version=run.knowledge_version,
        cause=run.cause,
    )


def _reading(entry: dict[str, Any]) -> ReadingView:
    """Return one line of what was read; runs of an earlier shape let findings alone be judged."""
    finding = entry["finding"]
    return ReadingView(**{"about": "finding" if finding else "", "name": finding, **entry})


def _fork(entry: dict[str, Any] | None) -> ForkView | None:
    """Return what a check decides."""
    return ForkView(**{**entry, "otherwise": tuple(entry["otherwise"])}) if entry else None


def _suspect(entry: dict[str, Any]) -> SuspectView:
    """Return one suspected fault with its reasons."""
    reasons = tuple(ReasonView(**reason) for reason in entry["reasons"])
    return SuspectView(**{**entry, "reasons": reasons})


def _findings(data: dict[str, Any]) -> tuple[FindingView, ...]:
    """Return what is known, then what would be worth knowing as unknown."""
    known = [FindingView(**entry) for entry in data["findings"]]
    names = {finding.id for finding in known}
    wanted = [
        FindingView(id=entry["finding"], name=entry["name"], state="unknown", source="")
        for entry in data["questions"]
        if entry["finding"] not in names
    ]
    return (*known, *wanted)


def get_respondent(case: Case) -> Respondent:
    """Return what the person who would be asked can look at; the usual where nothing is noted."""
    return Respondent.objects.filter(case=case).first() or Respondent(case=case)


def list_numbers(case: Case, fault: str) -> tuple[NumberView, ...]:
    """Return the numbers of the knowledge that a suspicion rests on most; runs the engine.

    Raises UnknownThingError for a fault there is not.
    """
    fault_info(fault)
    return weigh_numbers(gather_input(case), fault)


def gather_input(case: Case) -> EngineInput:
    """Return everything known of a case as the engine takes it; the first story comes first."""
    stories = list(case.reports.order_by("received_at", "pk").values_list("story", flat=True))
    replies = case.messages.filter(kind=MessageKind.REPLY).order_by("sent_at", "pk")
    texts = [*stories, *replies.values_list("body", flat=True)]
    marks = list(list_marks(case))
    person = get_respondent(case)
    said = list(case.reading_corrections.all())
    certain = {m.finding: m.state for m in marks if m.state != FindingState.UNKNOWN}
    unknown = [m for m in marks if m.state == FindingState.UNKNOWN]
    return EngineInput(
        text=BETWEEN_TEXTS.join(text for text in texts if text),
        story_length=len(stories[0]) if stories else 0,
        process=case.process,
        material=case.material,
        machine=case.machine,
        tried=(case.tried,) if case.tried else (),
        marks={name: state == FindingState.PRESENT for name, state in certain.items()},
        mark_sources={m.finding: m.source for m in marks},
        has_print=person.has_print,
        has_printer=person.has_printer,
        sends_photos=person.sends_photos,
        refused_tools=frozenset(person.refused_tools),
        withdrawn=frozenset(m.finding for m in unknown if m.source != MarkSource.PERSON),
        settled=frozenset(m.finding for m in unknown if m.source == MarkSource.PERSON),
        misread=frozenset((c.kind, c.name) for c in said if _is_taken_back(c)),
        noted=tuple(
            NotedWords(c.name, c.state, c.quote, c.start, c.end)
            for c in said
            if c.is_missed and c.start is not None and c.end is not None
        ),
    )


def _is_taken_back(said: ReadingCorrection) -> bool:
    """Return whether a reading no longer counts; for findings their marks say it."""
    return not said.is_missed and not said.is_right and said.kind != ReadingKind.FINDING
