"""Measures the engine: reports a second, start-up, memory, and the time of a posterior.

Run ``python tests/benchmarks/bench_triage.py [--reports N]``. The reports are made from the
phrases of the knowledge without chance, so two runs diagnose the same texts; they say nothing
about how well the engine reads real people. Times of single steps are processor time, so that other
work on the machine does not count.
"""

import argparse
import json
import re
import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from statistics import median
from time import perf_counter, process_time

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from triage import (  # noqa: E402  run as a script, the checkout is not on the path before
    Diagnoser,
    Evidence,
    Knowledge,
    Observation,
    ReportInput,
    compute_posterior,
    load_knowledge,
    plan_repair,
    rank_questions,
)
from triage.knowledge import KNOWLEDGE_FOLDER, load_teaching  # noqa: E402  as above
from triage.previews import preview_answers  # noqa: E402  as above
from triage.reading import TextClassifier  # noqa: E402  as above

WORDS = 120  # length of a typical report
STATED = 5  # findings stated in it
FILLER = (
    "I started it in the evening and looked again in the morning.",
    "The model came from a friend and he has made it before.",
    "It is for a present, so I would like to have it done by Sunday.",
    "I have had the printer since last winter and use it most weekends.",
    "Any help is welcome, and thank you for the show.",
    "The photo shows the side that faces the window.",
)


def say(pattern: str) -> str:
    """Return words that a pattern of the mini-language fits, its first alternative each time."""
    words = []
    for piece in pattern.split():
        if piece == "..":
            words.append("there")
        elif not piece.endswith("?"):
            words.append(re.sub(r"\*", "", piece.split("/")[0]))
    return " ".join(words)


def make_reports(knowledge: Knowledge, count: int) -> Iterator[ReportInput]:
    """Yield reports of about `WORDS` words that state `STATED` findings of one process each."""
    for process, share in (("MEX", 9), ("VPP", 1)):
        book = [
            (name, phrases.present)
            for name, phrases in knowledge.phrases["finding"].items()
            if phrases.present and knowledge.findings[name].process in (process, "any")
        ]
        for at in range(count * share // 10):
            sentences = []
            for step in range(STATED):
                _, patterns = book[(at * 37 + step * 61) % len(book)]
                sentences.append(f"There is {say(patterns[(at + step) % len(patterns)])} here.")
            while len(" ".join(sentences).split()) < WORDS:
                sentences.append(FILLER[(at + len(sentences)) % len(FILLER)])
            yield ReportInput(id=f"{process}-{at}", text=" ".join(sentences), process=process)


def make_evidence(knowledge: Knowledge, positives: int, case: int) -> Evidence:
    """Return a case of MEX with findings surely present and 30 surely absent."""
    names = [
        name
        for name, finding in knowledge.findings.items()
        if finding.process == "MEX" and any(link.finding == name for link in knowledge.links)
    ]
    start = case * 17
    picked = list(dict.fromkeys(names[(start + at * 53) % len(names)] for at in range(len(names))))
    observations = [Observation(name, "present") for name in picked[:positives]]
    observations += [Observation(name, "absent") for name in picked[positives : positives + 30]]
    return Evidence(process="MEX", observations=tuple(observations))


def time_posteriors(knowledge: Knowledge, cases: int = 40) -> Iterator[str]:
    """Yield one line for each number of findings present."""
    for positives in (5, 10, 15):
        times = []
        for case in range(cases):
            evidence = make_evidence(knowledge, positives, case)
            started = process_time()
            compute_posterior(knowledge, evidence)
            times.append((process_time() - started) * 1000)
        yield (
            f"posterior, {positives} present, 30 absent: "
            f"median {median(times):.2f} ms of processor time, max {max(times):.2f} ms"
        )


def time_stages(diagnoser: Diagnoser, reports: list[ReportInput]) -> Iterator[str]:
    """Yield the median of the whole diagnosis and of its stages."""
    knowledge = diagnoser.knowledge
    whole: list[float] = []
    belief: list[float] = []
    ask: list[float] = []
    plan: list[float] = []
    for report in reports:
        marks = [process_time()]
        diagnosis = diagnoser.diagnose(report)
        marks.append(process_time())
        posterior = compute_posterior(knowledge, diagnosis.evidence)
        marks.append(process_time())
        effects = preview_answers(knowledge, diagnosis.evidence, posterior)
        rank_questions(knowledge, diagnosis.evidence, posterior, limit=5, effects=effects)
        marks.append(process_time())
        plan_repair(knowledge, posterior, evidence=diagnosis.evidence, effects=effects)
        marks.append(process_time())
        for into, at in ((whole, 0), (belief, 1), (ask, 2), (plan, 3)):
            into.append((marks[at + 1] - marks[at]) * 1000)
    yield (
        f"one report in full: median {median(whole):.2f} ms of processor time (95 of 100 within "
        f"{sorted(whole)[len(whole) * 95 // 100]:.2f} ms); of it posterior {median(belief):.2f}, "
        f"questions {median(ask):.2f}, plan {median(plan):.2f} ms"
    )


def time_quick(diagnoser: Diagnoser, reports: list[ReportInput]) -> Iterator[str]:
    """Yield the median of a diagnosis as the command line makes it, and of the reading in it."""
    whole: list[float] = []
    read: list[float] = []
    for report in reports:
        started = process_time()
        diagnoser.diagnose(report)
        whole.append((process_time() - started) * 1000)
        started = process_time()
        diagnoser.reader.read(report.text)
        if diagnoser.classifier is not None:
            diagnoser.classifier.score(report.text)
        read.append((process_time() - started) * 1000)
    yield (
        f"one report, quickly: median {median(whole):.2f} ms of processor time; of it reading "
        f"{median(read):.2f} ms, {1000 / median(read):.0f} reports a second on one core"
    )


def run_command(reports: list[ReportInput]) -> float:
    """Return the seconds the command line takes for the reports."""
    with tempfile.NamedTemporaryFile("w", suffix=".jsonl", encoding="utf-8") as file:
        for report in reports:
            line = {"id": report.id, "text": report.text, "process": report.process}
            file.write(json.dumps(line) + "\n")
        file.flush()
        command = [sys.executable, "-m", "triage", "diagnose", "--input", file.name]
        started = perf_counter()
        subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.DEVNULL)  # noqa: S603
        return perf_counter() - started


def main() -> None:
    """Print all measures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--reports", type=int, default=1000)
    count = parser.parse_args().reports
    knowledge = load_knowledge()
    reports = list(make_reports(knowledge, count))
    out = sys.stdout.write
    alone = min(run_command(reports[:1]) for _ in range(3))
    out(f"start-up with one report: {alone:.2f} s\n")
    many = run_command(reports)
    rate = len(reports) / many
    out(f"command line: {len(reports)} reports in {many:.2f} s, {rate:.0f} a second\n")
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    out(f"largest process: {peak:.0f} MB\n")
    classifier = TextClassifier.train(load_teaching(knowledge, KNOWLEDGE_FOLDER), knowledge)
    quick = Diagnoser(knowledge, classifier=classifier, is_quick=True)
    full = Diagnoser(knowledge, reader=quick.reader, classifier=classifier)
    for line in (
        *time_quick(quick, reports[:400]),
        *time_stages(full, reports[:200]),
        *time_posteriors(knowledge),
    ):
        out(line + "\n")


if __name__ == "__main__":
    main()
