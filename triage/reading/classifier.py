"""What a text as a whole says of the faults: a classifier trained on stories.

It learns from invented reports and from the knowledge's own words, and gives for each fault a
likelihood ratio, P(text | fault) / P(text). docs/reading.md says how it was fitted and how far
it may be trusted.
"""

import math
from collections.abc import Mapping, Sequence
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
from triage.reading.features import count_features
from triage.reading.ridge import fit_ridge
from triage.reading.sharpness import fit_sharpness, log_ratios
from triage.reading.vectors import Scale, multiply_columns, multiply_rows

RIDGE = 4.0  # penalty of a story of weight 1; least leave-one-out loss of 1, 2, 4, 8
# Stories added to each fault's count before faults with few are made up for
# [judgement: desk, 2026-11-25]
EVEN_COUNT = 5.0
# Share of the fitted weight that is believed: real texts are further from the stories than the
# stories are from each other [judgement: desk, 2026-11-25]
STRENGTH = 0.7
# No text, however clear, changes log-odds by more [judgement: desk, 2026-11-25]
MOST_LOG_RATIO = math.log(300.0)
_FORMAT = 1
_PARTS = (
    "format",
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
        Factor from score to log-likelihood, fitted to the stories left out one at a time.
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

        Takes about 2 s for 2,700 stories; nothing in it is left to chance.

        Parameters
        ----------
        stories : sequence of Story
        knowledge : Knowledge
            Its faults' names, signs and reasons count as further stories.

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
        taught = [*stories, *_own_words(knowledge)]
        features = [count_features(story.text) for story in taught]
        scale = Scale.fit(features)
        rows = scale.weigh_all(features)
        product = multiply_rows(rows, len(scale.weight))
        target = _targets(taught, knowledge)
        fit = fit_ridge(product, target, RIDGE / np.array([story.weight for story in taught]))
        # A fault with few stories would score low whatever the text.
        even = 1.0 / np.sqrt(target.sum(axis=0) + EVEN_COUNT)
        weight = multiply_columns(rows, fit.dual * even, len(scale.weight))
        main = np.array([knowledge.network.fault_at[story.faults[0]] for story in stories])
        # Every fault counts the same, however many stories it has.
        share = np.array([story.weight for story in stories]) / np.bincount(main)[main]
        return cls(
            faults=tuple(knowledge.faults),
            scale=scale,
            weight=weight,
            sharpness=fit_sharpness((fit.left_out * even)[: len(stories)], main, share),
            knowledge_version=knowledge.version,
            stories_digest=digest_stories(stories),
            stories_count=len(stories),
        )

    def score(self, text: str) -> Floats:
        """Return how like its stories each fault's a text is, shape (faults,); 0 is neither.

        Time grows with the length of the text; a report takes about 0.3 ms.
        """
        at, value = self.scale.weigh(count_features(text))
        return np.asarray(value @ self.weight[at], dtype=np.float64)

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
        if not score.any() or not prior.any():
            return {}
        likelihood = score * (self.sharpness * STRENGTH)
        ratios = log_ratios(likelihood, prior, most=MOST_LOG_RATIO)
        return dict(zip(self.faults, ratios.tolist(), strict=True))

    def save(self, path: Path) -> None:
        """Write the classifier to a file, as NumPy's .npz.

        The file holds single words of the stories.
        """
        with path.open("wb") as file:
            np.savez(
                file,
                format=np.array(_FORMAT),
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
            If the file cannot be read, is no classifier, or is one of other faults.
        """
        try:
            with np.load(path, allow_pickle=False) as held:
                parts = {name: held[name] for name in _PARTS}
        except (OSError, ValueError, KeyError, EOFError, BadZipFile) as error:
            msg = f"'{path.name}' cannot be read as a classifier: {error}"
            raise InputError(msg) from error
        if int(parts["format"]) != _FORMAT:
            msg = f"'{path.name}' has format {parts['format']}, {_FORMAT} is needed; train it anew"
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


def digest_stories(stories: Sequence[Story]) -> str:
    """Return a short hash of some stories; it changes whenever one of them does."""
    told = sha256()
    for story in stories:
        told.update(repr((story.text, story.faults, story.weight)).encode())
    return told.hexdigest()[:12]


def _own_words(knowledge: Knowledge) -> tuple[Story, ...]:
    """Return what the knowledge says of each fault, as stories."""
    return tuple(
        Story(text, (fault.id,))
        for fault in knowledge.faults.values()
        for text in (f"{fault.name}. {fault.sign}", fault.why)
    )


def _targets(stories: Sequence[Story], knowledge: Knowledge) -> Floats:
    """Return which faults are behind which story, shape (stories, faults)."""
    target = np.zeros((len(stories), len(knowledge.faults)))
    for row, story in enumerate(stories):
        for fault in story.faults:
            if fault not in knowledge.faults:
                raise UnknownIdError("fault", fault, knowledge.faults)
            target[row, knowledge.network.fault_at[fault]] = 1.0
    return target
