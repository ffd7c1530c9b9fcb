"""The engine's command line: ``python -m triage diagnose --input FILE``."""

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import BinaryIO

from triage.diagnose import Diagnoser
from triage.errors import InputError, KnowledgeError, WorkerEndedError
from triage.knowledge import (
    KNOWLEDGE_FOLDER,
    LEAST_WAYS,
    Knowledge,
    check_depth,
    check_knowledge,
    check_stories,
    check_ways,
    count_kinds,
    count_sources,
    count_thin,
    load_knowledge,
    load_stories,
    load_teaching,
)
from triage.lines import split_lines
from triage.reading import Reader, TextClassifier, load_or_train, load_sentence_model
from triage.workers import answer_stream

FINE, REFUSED, USAGE = 0, 1, 2


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0 fine, 1 input refused, 2 usage."""
    options = _parser().parse_args(arguments)
    try:
        code: int = options.run(options)
        sys.stdout.flush()
    except WorkerEndedError as error:
        _complain(str(error))
        return REFUSED
    except BrokenPipeError:
        # The reader has had enough; Python would complain once more when it flushes at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return REFUSED
    return code


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m triage", description=__doc__)
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    diagnose = commands.add_parser(
        "diagnose", help="rank the faults of each report", description="Rank faults of reports."
    )
    diagnose.add_argument(
        "--input", required=True, metavar="FILE", help="JSON lines, one report each; - for stdin"
    )
    diagnose.add_argument(
        "--workers", type=_count, default=None, metavar="N", help="processes; one for each core"
    )
    diagnose.add_argument(
        "--classifier",
        type=Path,
        default=None,
        metavar="FILE",
        help="trained classifier to use; by default one is trained on the knowledge's stories",
    )
    diagnose.add_argument(
        "--meaning",
        action="store_true",
        help="train with the sentence model of the extra 'meaning' too: about 15 ms more a report",
    )
    diagnose.add_argument(
        "--thorough",
        action="store_true",
        help="price every answer and search the cheapest plan: a tenth as many reports a second",
    )
    check = commands.add_parser(
        "check", help="check the knowledge files", description="Check the knowledge files."
    )
    for command, run in ((diagnose, _diagnose), (check, _check)):
        command.add_argument(
            "--knowledge", type=Path, default=None, metavar="FOLDER", help="knowledge to use"
        )
        command.set_defaults(run=run)
    return parser


def _count(text: str) -> int:
    """Return a number of processes, 1 or more."""
    if not text.isdecimal() or int(text) < 1:
        msg = f"'{text}' is not a whole number from 1 on"
        raise argparse.ArgumentTypeError(msg)
    return int(text)


def _diagnose(options: argparse.Namespace) -> int:
    if options.input == "-":
        return _diagnose_stream(sys.stdin.buffer, options)
    try:
        stream = _open(options.input)
    except OSError as error:
        _complain(f"cannot read '{options.input}': {error.strerror}")
        return USAGE
    with stream:
        return _diagnose_stream(stream, options)


def _open(name: str) -> BinaryIO:
    return Path(name).open("rb")


def _diagnose_stream(stream: BinaryIO, options: argparse.Namespace) -> int:
    try:
        knowledge = load_knowledge(options.knowledge)
        classifier = _make_classifier(knowledge, options)
        diagnoser = Diagnoser(knowledge, classifier=classifier, is_quick=not options.thorough)
    except KnowledgeError as error:
        _list_problems(error)
        return REFUSED
    except InputError as error:
        _complain(str(error))
        return REFUSED
    workers = options.workers or _cores()
    refused = False
    for answer in answer_stream(diagnoser, split_lines(stream), workers=workers):
        if answer.output is not None:
            sys.stdout.write(answer.output + "\n")
            sys.stdout.flush()
        for complaint in answer.complaints:
            _complain(complaint)
            refused = True
    return REFUSED if refused else FINE


def _make_classifier(knowledge: Knowledge, options: argparse.Namespace) -> TextClassifier | None:
    """Return the classifier of the file named, or one trained on the stories, if there are any.

    Training takes longer than a start should, so what was trained is kept beside the user's
    other caches. Raises InputError when the sentence model is asked for and not installed.
    """
    if options.classifier is not None:
        return TextClassifier.load(options.classifier, knowledge)
    model = load_sentence_model() if options.meaning else None
    if options.meaning and model is None:
        msg = "--meaning needs the extra 'meaning', which is not installed; see docs/reading.md"
        raise InputError(msg)
    stories = load_teaching(knowledge, options.knowledge or KNOWLEDGE_FOLDER)
    if not stories:
        return None
    return load_or_train(Path.home() / ".cache" / "printward", stories, knowledge, model=model)


def _cores() -> int:
    """Return the number of cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _check(options: argparse.Namespace) -> int:
    try:
        knowledge = load_knowledge(options.knowledge)
        Reader(knowledge)  # compiles the phrases, and refuses one it cannot
        stories = load_stories(knowledge, options.knowledge or KNOWLEDGE_FOLDER)
    except KnowledgeError as error:
        _list_problems(error)
        return REFUSED
    problems = (
        *check_knowledge(knowledge),
        *check_depth(knowledge),
        *check_ways(knowledge),
        # A folder without any stories works without a classifier.
        *(check_stories(knowledge, stories) if stories else ()),
    )
    for problem in problems:
        _complain(str(problem))
    for title, counts in (
        ("entries", {**count_kinds(knowledge), "stories": len(stories)}),
        ("numbers by source", count_sources(knowledge)),
        (f"known in fewer than {LEAST_WAYS} ways", count_thin(knowledge)),
    ):
        listed = ", ".join(f"{count} {name}" for name, count in counts.items())
        sys.stdout.write(f"{title}: {listed}\n")
    sys.stdout.write(
        f"version {knowledge.version}: {len(knowledge.faults)} faults, "
        f"{len(knowledge.findings)} findings, {len(knowledge.links)} links, "
        f"{len(knowledge.actions)} actions; {len(problems)} problems\n"
    )
    return REFUSED if problems else FINE


def _list_problems(error: KnowledgeError) -> None:
    for problem in error.problems:
        _complain(str(problem))


def _complain(message: str) -> None:
    sys.stderr.write(message + "\n")


if __name__ == "__main__":
    sys.exit(main())
