"""The classifier of whole texts: the desk's own from a file, or one trained on the stories alone.

The file is written by ``manage.py train_reader``. A process that finds none, or one that does not
fit today's knowledge, trains one on the stories at its first use, which takes about 10 s.
"""

import functools
import logging
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

from triage.errors import InputError
from triage.knowledge import KNOWLEDGE_FOLDER, Knowledge, Story, load_teaching
from triage.reading import SentenceModel, TextClassifier, load_or_train, load_sentence_model

# A case with a verdict beside an invented story: it was told by somebody who had the fault
# [judgement: desk, 2026-11-25]
CASE_WEIGHT = 2.0
MOST_KEPT = 2  # classifiers a process keeps: before and after training anew

logger = logging.getLogger(__name__)


@dataclass(frozen=True)
class TrainedReader:
    """What `train_reader` wrote: where, and of how many stories and cases."""

    path: Path
    stories: int
    cases: int


def reader_path() -> Path:
    """Return where the desk keeps its trained classifier."""
    return Path(settings.DATA_DIR) / "reader.npz"


def train_reader(knowledge: Knowledge, cases: Iterable[tuple[str, Sequence[str]]]) -> TrainedReader:
    """Train a classifier on the stories and on cases, words and faults each, and write it.

    The file is put in place at once, so that nobody reads half of it.
    """
    stories = load_teaching(knowledge, KNOWLEDGE_FOLDER)
    own = tuple(Story(words, tuple(faults), CASE_WEIGHT) for words, faults in cases)
    path = reader_path()
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_suffix(".unfinished")
    TextClassifier.train((*stories, *own), knowledge, model=_find_model()).save(unfinished)
    unfinished.replace(path)
    return TrainedReader(path, len(stories), len(own))


def find_stamp() -> int | None:
    """Return when the file was last written, in nanoseconds, None when there is none."""
    try:
        return reader_path().stat().st_mtime_ns
    except OSError:
        return None


@functools.lru_cache(maxsize=MOST_KEPT)
def get_classifier(knowledge: Knowledge, stamp: int | None) -> TextClassifier:
    """Return the classifier of the file as it was at a time, or one of the stories alone."""
    if stamp is not None:
        try:
            found = TextClassifier.load(reader_path(), knowledge)
        except InputError as error:
            logger.warning("The trained reader is not used: %s", error)
        else:
            if found.knowledge_version == knowledge.version:
                return found
            logger.warning("The trained reader is not used: the knowledge has changed since")
    return _story_classifier(knowledge)


@functools.cache
def _story_classifier(knowledge: Knowledge) -> TextClassifier:
    """Return a classifier trained on the stories, kept with the desk's data.

    In a thread of Python's own: the web server's threads have small stacks, on which the linear
    algebra of a training was seen to end the process with a segmentation fault.
    """
    stories = load_teaching(knowledge, KNOWLEDGE_FOLDER)
    with ThreadPoolExecutor(max_workers=1) as roomy:
        folder, model = Path(settings.READER_DIR), _find_model()
        return roomy.submit(load_or_train, folder, stories, knowledge, model=model).result()


def _find_model() -> SentenceModel | None:
    """Return the sentence model when the desk is set to read by meaning and has it."""
    if not settings.READ_BY_MEANING:
        return None
    model = load_sentence_model()
    if model is None:
        logger.warning("PRINTWARD_MEANING is on, but the extra 'meaning' is not installed")
    return model
