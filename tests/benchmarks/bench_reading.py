"""Measures what a text as a whole adds to what is read in it, and fits how the two are weighed.

Run ``python tests/benchmarks/bench_reading.py [--every N] [--grid] [--meaning]``. The stories
are diagnosed by classifiers that were not given them (three parts, each held out in turn); short
stories and the second-hand reports in tests/triage/reading/told.txt are never trained on.
``--grid`` prints the log-loss for several shares of the reading and probabilities that a text is
like no story; the best on the stories is the stacking fit.
``--meaning`` trains with the sentence model of the extra 'meaning'. Long and short stories are
shown apart, as reports of strangers have about 95 words.
"""

import argparse
import sys
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from time import perf_counter
from unittest.mock import patch

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.triage.trained import load_told  # noqa: E402  run as a script, see bench_triage
from triage import Diagnoser, Knowledge, ReportInput, load_knowledge  # noqa: E402  see bench_triage
from triage.inference import compute_posterior  # noqa: E402  as above
from triage.knowledge import (  # noqa: E402  as above
    KNOWLEDGE_FOLDER,
    TEACHING_WORDS,
    Story,
    load_stories,
)
from triage.reading import TextClassifier, load_sentence_model  # noqa: E402  as above

PARTS = 3
UNLIKES = (0.02, 0.05, 0.1, 0.2, 0.3)
SHARES = (0.5, 0.6, 0.7, 0.85, 1.0)


def forecasts(diagnoser: Diagnoser, stories: Sequence[Story]) -> np.ndarray:
    """Return the posterior of each fault for each story, shape (stories, faults)."""
    found = []
    for story in stories:
        evidence = diagnoser.gather(ReportInput(id="", text=story.text))
        posterior = compute_posterior(diagnoser.knowledge, evidence)
        found.append(list(posterior.chances.values()))
    return np.array(found)


def describe(name: str, chances: np.ndarray, stories: Sequence[Story], faults: list[str]) -> str:
    """Return one line of figures."""
    truth = np.array([[fault in story.faults for fault in faults] for story in stories])
    order = np.argsort(-chances, axis=1, kind="stable")
    hits = [np.take_along_axis(truth, order[:, :k], 1).any(axis=1).mean() for k in (1, 3, 5)]
    kept = np.clip(chances, 1e-6, 1.0 - 1e-6)
    loss = -np.where(truth, np.log(kept), np.log1p(-kept)).sum(axis=1).mean()
    brier = ((chances - truth) ** 2).sum(axis=1).mean()
    sure = chances.max(axis=1).mean()
    return (
        f"{name:28} n {len(stories):4}  any@1/3/5 {hits[0]:.3f} {hits[1]:.3f} {hits[2]:.3f}  "
        f"log-loss {loss:.3f}  Brier {brier:.3f}  forecast of the first {sure:.2f}"
    )


def run(knowledge: Knowledge, every: int, *, grid: bool, meaning: bool) -> Iterator[str]:
    """Yield lines of figures."""
    model = load_sentence_model() if meaning else None
    if meaning and model is None:
        sys.exit("The extra 'meaning' is not installed; see docs/reading.md.")
    stories, told = load_stories(knowledge, KNOWLEDGE_FOLDER), load_told()
    teaching = [story for story in stories if is_teaching(story)]
    faults = list(knowledge.faults)
    start = perf_counter()
    whole = TextClassifier.train(teaching, knowledge, model=model)
    yield f"trained on {len(teaching)} of {len(stories)} stories in {perf_counter() - start:.2f} s"
    start = perf_counter()
    for story in told:
        whole.score(story.text)
    yield f"scored {len(told)} texts in {(perf_counter() - start) / len(told) * 1e3:.2f} ms each"
    plain = Diagnoser(knowledge)
    parts = []
    for part in range(PARTS):
        kept = [story for at, story in enumerate(stories) if at % PARTS != part]
        kept = [story for story in kept if is_teaching(story)]
        classifier = TextClassifier.train(kept, knowledge, model=model)
        held = Diagnoser(knowledge, reader=plain.reader, classifier=classifier)
        parts.append((held, stories[part :: PARTS * every]))
    combined = Diagnoser(knowledge, reader=plain.reader, classifier=whole)
    asked = [story for _, held in parts for story in held]

    def of_stories() -> np.ndarray:
        return np.concatenate([forecasts(diagnoser, held) for diagnoser, held in parts])

    alone = np.concatenate(
        [
            [diagnoser.classifier.score(story.text) for story in held]
            for diagnoser, held in parts
            if diagnoser.classifier is not None
        ]
    )
    is_long = np.array([is_teaching(story) for story in asked])
    for name, chances in (
        ("reading alone", forecasts(plain, asked)),
        ("classifier alone", softmax(alone)),
        ("both", of_stories()),
    ):
        yield describe(f"stories, {name}", chances, asked, faults)
        for length, chosen in (("long", is_long), ("short", ~is_long)):
            some = [story for story, kept in zip(asked, chosen, strict=True) if kept]
            yield describe(f"{length} stories, {name}", chances[chosen], some, faults)
    yield describe("told, reading alone", forecasts(plain, told), told, faults)
    alone = np.array([whole.score(story.text) for story in told])
    yield describe("told, classifier alone", softmax(alone), told, faults)
    yield describe("told, both", forecasts(combined, told), told, faults)
    for unlike in UNLIKES if grid else ():
        for share in SHARES:
            with ExitStack() as stack:
                stack.enter_context(patch("triage.reading.classifier.UNLIKE", unlike))
                stack.enter_context(patch("triage.diagnose.READ_SHARE", share))
                name = f"unlike {unlike}, share {share}"
                yield describe(f"stories, {name}", of_stories(), asked, faults)
                yield describe(f"told, {name}", forecasts(combined, told), told, faults)


def is_teaching(story: Story) -> bool:
    """Return whether a story is long enough to be trained on."""
    return len(story.text.split()) >= TEACHING_WORDS


def softmax(values: np.ndarray) -> np.ndarray:
    """Return each row of log-likelihoods as shares that add up to 1."""
    raised: np.ndarray = np.exp(values - values.max(axis=1, keepdims=True))
    return np.asarray(raised / raised.sum(axis=1, keepdims=True))


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=4, help="diagnose one story in N")
    parser.add_argument("--grid", action="store_true", help="fit how the two are weighed")
    parser.add_argument("--meaning", action="store_true", help="train with the sentence model")
    options = parser.parse_args()
    figures = run(load_knowledge(), options.every, grid=options.grid, meaning=options.meaning)
    for line in figures:
        print(line, flush=True)  # noqa: T201  a script's output


if __name__ == "__main__":
    main()
