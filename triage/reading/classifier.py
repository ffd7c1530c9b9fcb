"""What a text as a whole says of the faults: a classifier trained on stories.

It learns from invented reports and from the knowledge's own words, and gives for each fault a
likelihood ratio, P(text | fault) / P(text). docs/reading.md says how it was fitted and how far
it may be trusted.
"""

import functools
import os
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Self
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from triage.errors import InputError, UnknownIdError
from triage.knowledge import Knowledge, Story
from triage.knowledge._model import Floats
from triage.reading.features import count_features, says_something
from triage.reading.own_words import list_own_words
from triage.reading.regression import fit_softmax
from triage.reading.sharpness import fit_sharpness, log_ratios
from triage.reading.vectors import Scale, multiply_columns, multiply_rows

# How these were chosen stands in docs/reading.md.
PENALTY = 0.8  # least held-out log-loss of 0.05, 0.1, 0.2, 0.4, 0.8, 1.6
STEPS = 15  # more change nothing that counts
# Of likeness by way of other texts beside that of words; least held-out log-loss of 0, 0.3, 1, 2
KINDRED = 1.0
FOLDS = 3  # parts the stories are held out in to see how far the scores may be trusted
OWN_WEIGHT = 2.0  # of the knowledge's words beside a story; least held-out loss of 0.5, 1, 2
# Share of the fitted log-likelihoods that is believed: real texts are further from the stories
# than the stories are from each other [judgement: desk, 2026-11-25]
STRENGTH = 0.9
# Probability that somebody tells of a fault as none of the stories does
# [judgement: desk, 2026-11-25]
UNLIKE = 0.1
_PARTS = (
    "recipe",
    "faults",
    "features",
    "rarity",
    "weight",
    "sharpness",
    "knowledge_version",
    "stories_digest",
    "stories_count",
)


@dataclass(frozen=True, slots=True, eq=False)
class TextClassifier:
    """A trained classifier; immutable and safe to share.

    Parameters
    ----------
    faults : tuple of str
        What it tells apart, in the order of the knowledge.
    scale : Scale
        What each feature weighs.
    weight : array, shape (features, faults), single precision
        A text's score is its vector times this.
    sharpness : float
        Factor from score to log-likelihood, fitted to stories the classifier was not given.
    knowledge_version : str
        State of the knowledge it was trained with.
    stories_digest : str
        Short hash of the stories it was trained with.
    stories_count : int
    """

    faults: tuple[str, ...]
    scale: Scale
    weight: NDArray[np.float32]
    sharpness: float
    knowledge_version: str
    stories_digest: str
    stories_count: int

    @classmethod
    def train(cls, stories: Sequence[Story], knowledge: Knowledge) -> Self:
        """Return a classifier trained on stories and on the knowledge's own words.

        Takes about 10 s for 5,000 stories on two cores; nothing in it is left to chance.

        Parameters
        ----------
        stories : sequence of Story
        knowledge : Knowledge
            What it says of each fault counts as further stories.

        Returns
        -------
        TextClassifier

        Raises
        ------
        InputError
            If there are no stories.
        UnknownIdError
            If a story names a fault the knowledge lacks.
        """
        if not stories:
            msg = "there are no stories to train the classifier on"
            raise InputError(msg)
        taught = (*stories, *list_own_words(knowledge, weight=OWN_WEIGHT))
        # Counted twice, as the features of thousands of stories together fill the memory.
        scale = Scale.fit(count_features(story.text) for story in taught)
        rows = scale.weigh_all(count_features(story.text) for story in taught)
        product = multiply_rows(rows, len(scale.weight))
        target = _targets(taught, knowledge)
        weight = np.array([story.weight for story in taught])
        held_out = _hold_out(product, target, weight, len(stories))
        main = np.array([knowledge.network.fault_at[story.faults[0]] for story in stories])
        # Every fault counts the same, however many stories it has.
        share = weight[: len(stories)] / np.bincount(main)[main]
        dual = _fit(product, target, weight)
        return cls(
            faults=tuple(knowledge.faults),
            scale=scale,
            weight=multiply_columns(rows, dual, len(scale.weight)),
            sharpness=fit_sharpness(held_out, main, share),
            knowledge_version=knowledge.version,
            stories_digest=digest_stories(stories),
            stories_count=len(stories),
        )

    def score(self, text: str) -> Floats:
        """Return ln P(text | fault), shape (faults,), up to a constant common to all.

        As the stories have it: `log_ratios` believes less. All are 0 for a text of which the
        classifier knows nothing.
        """
        at, value = self.scale.weigh(count_features(text))
        return np.asarray(value @ self.weight[at], dtype=np.float64) * self.sharpness

    def log_ratios(self, text: str, prior: Floats) -> Mapping[str, float]:
        """Return ln(P(text | fault) / P(text)) for each fault that may be at work.

        Parameters
        ----------
        text : str
        prior : array, shape (faults,)
            Of each fault, 0 where it cannot be at work; only its proportions matter.

        Returns
        -------
        mapping of str to float
            Empty when the text holds nothing the classifier knows.
        """
        score = self.score(text)
        if not says_something(text) or not score.any() or not prior.any():
            return {}
        ratios = log_ratios(score * STRENGTH, prior, unlike=UNLIKE)
        return dict(zip(self.faults, ratios.tolist(), strict=True))

    def save(self, path: Path) -> None:
        """Write the classifier to a file, as NumPy's .npz.

        The file holds single words of the stories.
        """
        with path.open("wb") as file:
            np.savez(
                file,
                recipe=np.array(_recipe()),
                faults=np.array(self.faults),
                features=np.array(list(self.scale.columns)),
                rarity=self.scale.weight,
                weight=self.weight,
                sharpness=np.array(self.sharpness),
                knowledge_version=np.array(self.knowledge_version),
                stories_digest=np.array(self.stories_digest),
                stories_count=np.array(self.stories_count),
            )

    @classmethod
    def load(cls, path: Path, knowledge: Knowledge) -> Self:
        """Return the classifier of a file.

        Parameters
        ----------
        path : Path
        knowledge : Knowledge
            Its faults must be those the classifier tells apart; its numbers may have changed.

        Raises
        ------
        InputError
            If the file cannot be read, is no classifier, was trained by other code, or is one of
            other faults.
        """
        try:
            # NumPy leaves a file it opened itself open when it finds no archive in it.
            with path.open("rb") as file, np.load(file, allow_pickle=False) as held:
                parts = {name: held[name] for name in _PARTS}
        except (OSError, ValueError, TypeError, KeyError, EOFError, BadZipFile) as error:
            msg = f"'{path.name}' cannot be read as a classifier: {error}"
            raise InputError(msg) from error
        if str(parts["recipe"]) != _recipe():
            msg = f"'{path.name}' was trained by another state of this program; train it anew"
            raise InputError(msg)
        columns = {name: at for at, name in enumerate(parts["features"].tolist())}
        found = cls(
            faults=tuple(parts["faults"].tolist()),
            scale=Scale(columns, parts["rarity"]),
            weight=parts["weight"],
            sharpness=float(parts["sharpness"]),
            knowledge_version=str(parts["knowledge_version"]),
            stories_digest=str(parts["stories_digest"]),
            stories_count=int(parts["stories_count"]),
        )
        found.check(knowledge)
        return found

    def check(self, knowledge: Knowledge) -> None:
        """Raise InputError unless the faults are those of the knowledge, in the same order."""
        if self.faults == tuple(knowledge.faults):
            return
        odd = sorted(set(self.faults) ^ set(knowledge.faults))
        named = f": {', '.join(odd[:3])}" if odd else ", in another order"
        msg = (
            f"the classifier tells other faults apart than the knowledge has{named}; train it anew"
        )
        raise InputError(msg)


def load_or_train(folder: Path, stories: Sequence[Story], knowledge: Knowledge) -> TextClassifier:
    """Return the classifier of some stories, kept in a folder because training takes seconds.

    Parameters
    ----------
    folder : Path
        Where a file named after the state of the knowledge and the stories is looked for, and
        written when it is not there or cannot be used. A folder that cannot be written only
        costs the time again.
    stories : sequence of Story
    knowledge : Knowledge

    Returns
    -------
    TextClassifier
    """
    kept = folder / f"reader-{knowledge.version}-{digest_stories(stories)}.npz"
    try:
        return TextClassifier.load(kept, knowledge)
    except InputError:
        trained = TextClassifier.train(stories, knowledge)
    with suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        unfinished = kept.with_name(f"{kept.stem}-{os.getpid()}.unfinished")
        trained.save(unfinished)
        unfinished.replace(kept)
    return trained


def digest_stories(stories: Sequence[Story]) -> str:
    """Return a short hash of some stories; it changes whenever one of them does."""
    told = sha256()
    for story in stories:
        told.update(repr((story.text, story.faults, story.weight)).encode())
    return told.hexdigest()[:12]


@functools.cache
def _recipe() -> str:
    """Return a short hash of the code that reads and trains; features of two recipes do not mix."""
    code = sha256()
    for file in sorted(Path(__file__).parent.glob("*.py")):
        code.update(file.read_bytes())
    return code.hexdigest()[:12]


def _hold_out(product: NDArray[np.float32], target: Floats, weight: Floats, count: int) -> Floats:
    """Return the scores of the first `count` texts by classifiers that were not given them."""
    place = np.arange(len(target))
    held_out = np.zeros((count, target.shape[1]))
    for fold in range(FOLDS):
        out = (place < count) & (place % FOLDS == fold)
        kept = ~out
        dual = _fit(product[np.ix_(kept, kept)], target[kept], weight[kept])
        held_out[out[:count]] = product[np.ix_(out, kept)] @ dual
    return held_out


def _fit(product: NDArray[np.float32], target: Floats, weight: Floats) -> Floats:
    """Return the dual weights, every fault counting the same however many texts it has.

    Two texts also count as alike when they are like the same texts, whatever their own words:
    to the product P of all texts some of P·P is added. Source: [wong1985].
    """
    main = target.argmax(axis=1)
    total = target.T @ weight
    even = weight * (weight.sum() / len(total)) / total[main]
    both = product @ product.T  # as it is symmetric; NumPy does half the work for this form
    share = KINDRED * product.diagonal().mean() / both.diagonal().mean()
    both *= share
    both += product
    dual = fit_softmax(both, target, even, penalty=PENALTY, steps=STEPS)
    return np.asarray(dual + share * (product @ dual.astype(np.float32)))


def _targets(stories: Sequence[Story], knowledge: Knowledge) -> Floats:
    """Return the share of each fault in each story, shape (stories, faults)."""
    target = np.zeros((len(stories), len(knowledge.faults)))
    for row, story in enumerate(stories):
        for fault in story.faults:
            if fault not in knowledge.faults:
                raise UnknownIdError("fault", fault, knowledge.faults)
            target[row, knowledge.network.fault_at[fault]] = 1.0 / len(story.faults)
    return target
