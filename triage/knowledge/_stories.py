"""Invented reports from which the classifier learns how people tell of each fault."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from triage.errors import KnowledgeError, Problem, suggest
from triage.knowledge._model import Entries

STORIES_FOLDER = "stories"
# Fewer stories than this do not show in how many ways people tell of a fault
# [judgement: desk, 2026-11-25]
LEAST_STORIES = 12
# Words of a story that teaches the classifier. Reports of strangers have about a hundred; without
# the shorter stories it guesses better whatever the length, docs/reading.md has the figures
# [judgement: desk, 2026-11-25]
TEACHING_WORDS = 60
_ALSO = "also:"
_COMMENT = "#"


@dataclass(frozen=True, slots=True)
class Story:
    """A report with the faults behind it, the main one first.

    `weight` is what it counts for beside others, above 0.
    """

    text: str
    faults: tuple[str, ...]
    weight: float = 1.0


def load_stories(knowledge: Entries, folder: Path) -> tuple[Story, ...]:
    """Return the stories of a knowledge folder, in the order of the files.

    ``stories/<fault>.txt`` holds reports with a blank line between them. A report's first line
    may be ``also: fault, …``; lines that begin with # are comments.

    Parameters
    ----------
    knowledge : Knowledge or Entries
        Whose faults the stories are about.
    folder : Path
        Knowledge folder; without stories in it there are none.

    Returns
    -------
    tuple of Story

    Raises
    ------
    KnowledgeError
        If a file cannot be read, is named after no fault or names none after "also:", a fault
        is given twice, or a report has no text. `problems` lists all of them.
    """
    problems: list[Problem] = []
    stories: list[Story] = []
    for file in sorted((folder / STORIES_FOLDER).glob("*.txt")):
        name = file.relative_to(folder).as_posix()
        try:
            content = file.read_text(encoding="utf-8")
        except UnicodeDecodeError as error:
            problems.append(Problem(name, "", f"the file cannot be read: {error}"))
            continue
        problems += _unknown(name, "file name", (file.stem,), knowledge.faults)
        for number, lines in enumerate(_split_reports(content), start=1):
            key = f"report {number}"
            also = _also(lines[0])
            text = "\n".join(lines if also is None else lines[1:])
            faults = (file.stem, *(also or ()))
            problems += _unknown(name, key, faults[1:], knowledge.faults)
            if len(set(faults)) < len(faults):
                problems.append(Problem(name, key, "a fault is named twice"))
            if not text.strip():
                problems.append(Problem(name, key, "there is no text after 'also:'"))
            stories.append(Story(text, faults))
    if problems:
        raise KnowledgeError(*problems)
    return tuple(stories)


def load_teaching(knowledge: Entries, folder: Path) -> tuple[Story, ...]:
    """Return the stories that teach the classifier: those told at length.

    Parameters, Raises
        As for `load_stories`.

    Returns
    -------
    tuple of Story
        The others test what was learnt.
    """
    stories = load_stories(knowledge, folder)
    return tuple(story for story in stories if len(story.text.split()) >= TEACHING_WORDS)


def check_stories(knowledge: Entries, stories: Iterable[Story]) -> tuple[Problem, ...]:
    """Return each fault that is the main one of fewer than `LEAST_STORIES` that teach."""
    taught = (story for story in stories if len(story.text.split()) >= TEACHING_WORDS)
    counts = Counter(story.faults[0] for story in taught)
    return tuple(
        Problem(
            f"{STORIES_FOLDER}/{fault}.txt",
            f"fault {fault}",
            f"{counts[fault]} stories told at length; {LEAST_STORIES} or more are needed",
        )
        for fault in knowledge.faults
        if counts[fault] < LEAST_STORIES
    )


def _split_reports(content: str) -> Iterator[list[str]]:
    """Yield the lines of each report."""
    lines: list[str] = []
    for line in (*content.splitlines(), ""):
        if line.strip():
            if not line.startswith(_COMMENT):
                lines.append(line)
        elif lines:
            yield lines
            lines = []


def _also(line: str) -> tuple[str, ...] | None:
    """Return the faults a report's first line names, None when it is no such line."""
    if not line.lower().startswith(_ALSO):
        return None
    return tuple(name.strip() for name in line[len(_ALSO) :].split(",") if name.strip())


def _unknown(
    file: str, key: str, names: Iterable[str], valid: Mapping[str, object]
) -> list[Problem]:
    """Return a problem for each name that is no fault."""
    return [
        Problem(file, key, f"unknown fault '{name}'{suggest(name, valid)}")
        for name in names
        if name not in valid
    ]
