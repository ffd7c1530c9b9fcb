"""The classifier of the real knowledge, trained once for each state of it."""

import functools
from pathlib import Path

from triage.knowledge import KNOWLEDGE_FOLDER, Knowledge, Story, load_knowledge, load_teaching
from triage.reading import TextClassifier, load_or_train

# The desk's tests keep it in the same place; the file's name tells the state it was trained in.
KEPT = Path(__file__).parents[2] / ".pytest_cache" / "reader"
TOLD = Path(__file__).parent / "reading" / "told.txt"


@functools.cache
def real_knowledge() -> Knowledge:
    """Return the knowledge that comes with the engine."""
    return load_knowledge()


@functools.cache
def real_classifier() -> TextClassifier:
    """Return the classifier of the stories that come with the engine."""
    knowledge = real_knowledge()
    return load_or_train(KEPT, load_teaching(knowledge, KNOWLEDGE_FOLDER), knowledge)


@functools.cache
def load_told() -> tuple[Story, ...]:
    """Return second-hand reports by another author than the stories', never trained on."""
    lines = TOLD.read_text(encoding="utf-8").splitlines()
    pairs = [line.split("|", 1) for line in lines if line.strip()]
    return tuple(
        Story(text.strip(), tuple(name.strip() for name in faults.split(",")))
        for faults, text in pairs
    )
