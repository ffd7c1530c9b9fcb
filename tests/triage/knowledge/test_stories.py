"""Stories: their files, what is refused, and the bank that comes with the engine."""

from pathlib import Path

import pytest

from tests.triage.folder import write_folder
from triage.errors import KnowledgeError
from triage.knowledge import (
    KNOWLEDGE_FOLDER,
    Knowledge,
    Story,
    check_stories,
    load_knowledge,
    load_stories,
    load_teaching,
)

AT_LENGTH = "Then it happened once more, as before. " * 9  # 63 words


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a small knowledge folder with room for stories."""
    write_folder(tmp_path)
    (tmp_path / "stories").mkdir()
    return tmp_path


@pytest.fixture
def knowledge(folder: Path) -> Knowledge:
    return load_knowledge(folder)


def test_stories_are_paragraphs_with_further_faults_and_comments(
    folder: Path, knowledge: Knowledge
) -> None:
    first, second, *_ = knowledge.faults
    content = f"# A title\n\nOne line\nand another.\n\n\nalso: {second}\n# aside\nBoth at once.\n"
    (folder / "stories" / f"{first}.txt").write_text(content)

    assert load_stories(knowledge, folder) == (
        Story("One line\nand another.", (first,)),
        Story("Both at once.", (first, second)),
    )


def test_stories_told_at_length_teach(folder: Path, knowledge: Knowledge) -> None:
    """Short ones are kept to test with."""
    first = next(iter(knowledge.faults))
    (folder / "stories" / f"{first}.txt").write_text(f"It curls.\n\nIt curls. {AT_LENGTH}\n")

    (taught,) = load_teaching(knowledge, folder)

    assert taught.text == f"It curls. {AT_LENGTH}"
    assert len(load_stories(knowledge, folder)) == 2


def test_few_short_stories_do_not_count(knowledge: Knowledge) -> None:
    first = next(iter(knowledge.faults))

    problems = check_stories(knowledge, [Story(f"Number {at}.", (first,)) for at in range(12)])

    assert len(problems) == len(knowledge.faults)


def test_stories_of_a_folder_without_them_are_none(tmp_path: Path, knowledge: Knowledge) -> None:
    assert load_stories(knowledge, tmp_path / "elsewhere") == ()


@pytest.mark.parametrize(
    ("name", "content", "problem"),
    [
        ("shrinkage-wrap", "Text.", r"unknown fault 'shrinkage-wrap'.*'shrinkage-warp'"),
        ("shrinkage-warp", "also: shrinkage-wrap\nText.", r"report 1: unknown fault 'shrinkage-w"),
        ("shrinkage-warp", "also: shrinkage-warp\nText.", r"report 1: a fault is named twice"),
        ("shrinkage-warp", "Text.\n\nalso: shrinkage-warp\n", r"report 2: "),
    ],
)
def test_stories_that_name_no_fault_are_refused(
    folder: Path, knowledge: Knowledge, name: str, content: str, problem: str
) -> None:
    """The message names the file, the report and the nearest fault."""
    (folder / "stories" / f"{name}.txt").write_text(content)

    with pytest.raises(KnowledgeError, match=problem) as caught:
        load_stories(knowledge, folder)
    assert all(each.file == f"stories/{name}.txt" for each in caught.value.problems)


def test_story_without_text_is_refused(folder: Path, knowledge: Knowledge) -> None:
    first, second, *_ = knowledge.faults
    (folder / "stories" / f"{first}.txt").write_text(f"also: {second}\n")

    with pytest.raises(KnowledgeError, match="there is no text after 'also:'"):
        load_stories(knowledge, folder)


def test_stories_that_are_no_text_are_refused(folder: Path, knowledge: Knowledge) -> None:
    (folder / "stories" / "shrinkage-warp.txt").write_bytes(b"\xff\xfe broken")

    with pytest.raises(KnowledgeError, match="cannot be read"):
        load_stories(knowledge, folder)


def test_faults_with_few_stories_are_named(knowledge: Knowledge) -> None:
    first, *rest = knowledge.faults
    stories = [Story(f"Number {at}. {AT_LENGTH}", (first,)) for at in range(12)]

    assert [problem.key for problem in check_stories(knowledge, stories)] == [
        f"fault {fault}" for fault in rest
    ]
    assert len(check_stories(knowledge, stories[1:])) == len(knowledge.faults)


def test_bank_has_each_story_once() -> None:
    """A copied story would count its words twice and make leaving one out worthless."""
    stories = load_stories(load_knowledge(), KNOWLEDGE_FOLDER)
    texts = [" ".join(story.text.casefold().split()) for story in stories]

    assert len(set(texts)) == len(texts)
