"""What the desk shows of a diagnosis, as plain frozen values."""

import datetime
from dataclasses import dataclass

PRESENT, ABSENT, CIRCUMSTANCE, TRIED, DANGER = (
    "present",
    "absent",
    "circumstance",
    "tried",
    "danger",
)


@dataclass(frozen=True)
class ReasonView:
    """One piece of evidence and its weight for a fault, in decibans.

    `finding` is the id of the finding, circumstance, remedy or guessed fault it is about; `kind`
    says which of these it is.
    """

    finding: str
    kind: str
    state: str
    label: str
    decibans: float
    source: str


@dataclass(frozen=True)
class SuspectView:
    """A suspected fault with its probability and the reasons for and against it.

    `prior_decibans` are its odds before any evidence, `posterior_decibans` after all of it,
    `together_decibans` what the pieces only do together; None where certainty is infinite.
    """

    fault: str
    name: str
    sign: str
    probability: float
    reasons: tuple[ReasonView, ...] = ()
    prior_decibans: float | None = None
    posterior_decibans: float | None = None
    together_decibans: float = 0.0


@dataclass(frozen=True)
class TurnView:
    """Something that would put another fault first.

    `name` and `answer` ("present" or "absent") say what would, or what is believed now and
    would have to be otherwise; `chance` how probable that is, `leader` and `probability` which
    fault would then lead.
    """

    name: str
    answer: str
    chance: float
    leader: str
    probability: float


@dataclass(frozen=True)
class NumberView:
    """A number of the knowledge that a suspicion rests on, in words, with its source.

    `halved` and `doubled` are the probability of the fault with the number's odds halved and
    doubled; at `tips_at` the fault `tips_to` takes the lead, if anywhere. A number is a
    probability, or an odds ratio where `is_ratio`.
    """

    what: str
    value: float
    is_ratio: bool
    source: str
    halved: float
    doubled: float
    tips_at: float | None
    tips_to: str


@dataclass(frozen=True)
class FindingView:
    """A finding of the case: what is known of it and where from.

    `sureness` is how reliable the words are, 0.5 to 1; None for what a person set.
    """

    id: str
    name: str
    state: str
    source: str
    quote: str = ""
    sureness: float | None = None
    danger: str = ""


@dataclass(frozen=True)
class SpanView:
    """A part of the first report's story that was read: offsets are characters."""

    start: int
    end: int
    kind: str
    number: int
    finding: str
    label: str


@dataclass(frozen=True)
class ReadingView:
    """One line of what the desk read, with the number of its span.

    `finding` is the id of what was read, "" where it is no finding; `is_overruled` tells that
    somebody has said otherwise since. `about` and `name` say what can be corrected: "finding",
    "risk", "tried", "guess", "danger" or "fact" with its id, or "noted" for a finding that
    somebody of the desk added; "" for nothing.
    """

    number: int
    kind: str
    label: str
    quote: str
    is_in_story: bool
    finding: str = ""
    is_overruled: bool = False
    about: str = ""
    name: str = ""


@dataclass(frozen=True)
class QuestionView:
    """A question worth asking: what it settles and what it costs the person.

    `saves` is how many minutes of the repair the answer saves on average, `adds` how many
    beside the others of those to ask together; `share` is what it settles beside the one that
    settles most. `kind` is that of the finding.
    """

    finding: str
    question: str
    help: str
    gain: float
    minutes: float
    needs: tuple[str, ...]
    share: float
    kind: str = ""
    saves: float = 0.0
    adds: float = 0.0
    is_together: bool = False


@dataclass(frozen=True)
class StepView:
    """One step of the plan; `success` is 0 for safety steps and checks.

    `reached` is the probability that the step is come to, `cured_so_far` that of being cured by
    then; `money` is in units of money.
    """

    action: str
    kind: str
    name: str
    how: str
    why: str
    minutes: float
    wait_minutes: float
    success: float
    money: float = 0.0
    reached: float = 1.0
    cured_so_far: float = 0.0


@dataclass(frozen=True)
class ForkView:
    """What a check of the plan decides.

    The plan goes on with one answer, `follows` ("present" or "absent"); `otherwise` names the
    remedies for the other one.
    """

    check: str
    finding: str
    name: str
    present: float
    follows: str
    otherwise: tuple[str, ...]


@dataclass(frozen=True)
class SetView:
    """Exactly these faults and no other, and how probable; no names: none of the known ones."""

    faults: tuple[str, ...]
    names: tuple[str, ...]
    probability: float


@dataclass(frozen=True)
class DangerView:
    """A danger: `say` stands at the top of the answer, `findings` are those that raise it."""

    id: str
    name: str
    say: str
    quote: str
    findings: tuple[str, ...]


@dataclass(frozen=True)
class FactView:
    """A fact read from the text: a Case field, its value and the words."""

    field: str
    value: str
    quote: str


@dataclass(frozen=True)
class CheckView:
    """A value that cannot be meant as it stands: how it was read, why it is doubted, the words."""

    shown: str
    why: str
    quote: str


@dataclass(frozen=True)
class CaseView:
    """All the desk shows of its latest look at a case."""

    suspects: tuple[SuspectView, ...]
    others: int
    findings: tuple[FindingView, ...]
    spans: tuple[SpanView, ...]
    readings: tuple[ReadingView, ...]
    questions: tuple[QuestionView, ...]
    plan: tuple[StepView, ...]
    expected_minutes: float
    dangers: tuple[DangerView, ...]
    facts: tuple[FactView, ...]
    notes: tuple[str, ...]
    would_change: str
    fits: bool
    process: str
    made_at: datetime.datetime
    knowledge_version: str
    cause: str
    expected_wait_minutes: float = 0.0
    expected_money: float = 0.0
    last_resort: StepView | None = None
    fork: ForkView | None = None
    sets: tuple[SetView, ...] = ()
    batch_saves: float = 0.0
    batch_costs: float = 0.0
    batch_pays: bool = False
    changes: tuple[TurnView, ...] = ()
    doubts: tuple[TurnView, ...] = ()
    checks: tuple[CheckView, ...] = ()
