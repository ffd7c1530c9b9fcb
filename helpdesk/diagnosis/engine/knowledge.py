"""The knowledge: the expert's as the files say it, and with the numbers in force.

Learning changes numbers alone, so names, questions and texts always come from the expert's
knowledge. Which revision of the numbers is in force is read from the database before each run of
the engine, so a switch reaches every process at its next run, without a restart. So does what was
newly learnt of texts and phrases.
"""

import functools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from helpdesk.diagnosis.engine.reliability import find_phrases_stamp, get_reliability
from helpdesk.diagnosis.engine.wording import TrainedReader, find_stamp, get_classifier
from helpdesk.diagnosis.engine.wording import train_reader as train_with
from helpdesk.diagnosis.models import KnowledgeRevision, RevisionSwitch
from triage.diagnose import Diagnoser
from triage.knowledge import Knowledge, load_knowledge
from triage.learning import Counts, revise
from triage.reading import Reader

MOST_KEPT = 4  # engines a process keeps: the one in force, and those before a switch or two


@dataclass(frozen=True, slots=True)
class Numbers:
    """Which numbers are in force: a revision, or the expert's alone (None).

    The digest of its counts tells revisions apart when a database was put back to an earlier day
    and numbers were given out anew.
    """

    revision: int | None
    digest: str


@dataclass(frozen=True, slots=True)
class Stamps:
    """When the files of what the desk learnt of words were written; None for no file."""

    classifier: int | None
    phrases: int | None


@dataclass(frozen=True, slots=True)
class Engine:
    """A diagnoser with the number of the revision it computes with."""

    revision: int | None
    diagnoser: Diagnoser


@functools.cache
def expert_knowledge() -> Knowledge:
    """Return the knowledge as the experts wrote it, read once per process."""
    return load_knowledge()


def expert_diagnoser() -> Diagnoser:
    """Return the diagnoser with the expert's numbers alone."""
    return _expert_engine(find_stamps()).diagnoser


def train_reader(cases: Iterable[tuple[str, Sequence[str]]]) -> TrainedReader:
    """Train the classifier of whole texts on the stories and on cases, and keep it in a file."""
    return train_with(expert_knowledge(), cases)


def get_engine() -> Engine:
    """Return the engine with the numbers in force now; costs one query.

    Take it once for a run: the numbers may change between two calls.
    """
    return _make_engine(find_numbers(), find_stamps())


def make_ready() -> None:
    """Make the engine in force, so that no row is locked while a new process trains its own."""
    get_engine()


def find_stamps() -> Stamps:
    """Return when the files of what the desk learnt of words were written."""
    return Stamps(find_stamp(), find_phrases_stamp())


def find_numbers() -> Numbers:
    """Return which numbers are in force: those of the newest switch."""
    switches = RevisionSwitch.objects.order_by("-pk")
    row = switches.values_list("revision__number", "revision__digest").first()
    number, digest = row or (None, None)
    return Numbers(number, digest or "")


def revised_knowledge(revision: KnowledgeRevision) -> Knowledge:
    """Return today's expert knowledge with a revision's counts.

    What its counts say of things the knowledge holds no more is passed over.
    """
    expert = expert_knowledge()
    return revise(expert, Counts.from_json(revision.counts, expert))


@functools.lru_cache(maxsize=MOST_KEPT)
def _make_engine(numbers: Numbers, stamps: Stamps) -> Engine:
    """Return an engine with some numbers and files, made once per process."""
    if numbers.revision is None:
        return _expert_engine(stamps)
    revision = KnowledgeRevision.objects.get(number=numbers.revision)
    expert = _expert_engine(stamps).diagnoser
    # Learning changes no word, so the compiled phrases and the classifier are shared.
    diagnoser = Diagnoser(
        revised_knowledge(revision), reader=expert.reader, classifier=expert.classifier
    )
    return Engine(numbers.revision, diagnoser)


@functools.lru_cache(maxsize=MOST_KEPT)
def _expert_engine(stamps: Stamps) -> Engine:
    """Return the engine with the expert's numbers, made once per process and state of the files."""
    expert = expert_knowledge()
    reader = _reader().relying_on(get_reliability(stamps.phrases))
    classifier = get_classifier(expert, stamps.classifier)
    return Engine(None, Diagnoser(expert, reader=reader, classifier=classifier))


@functools.cache
def _reader() -> Reader:
    """Return the reader with its phrases compiled, made once per process."""
    return Reader(expert_knowledge())
