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
from triage.reading.meaning import Meanings, Sense, SentenceModel, load_sentence_model
from triage.reading.own_words import list_own_words
from triage.reading.sharpness import fit_sharpness, log_ratios
from triage.reading.training import Singles, Taught, fit_dual, score_held_out
from triage.reading.vectors import Scale, multiply_columns, multiply_rows

OWN_WEIGHT = 2.0  # of the knowledge's words beside a story; least held-out loss of 0.5, 1, 2
# Probability that somebody tells of a fault as none of the stories does; more than the stories
# ask for, as strangers write less like them, see docs/reading.md [judgement: desk, 2026-11-25]
UNLIKE = 0.2
FILES_KEPT = 3  # states of knowledge and stories whose classifiers stay in a folder
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
    "centre",
    "sense",
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
    sense : Sense or None
        What the meaning of a text adds to its score; None when trained without sentence model.
    """

    faults: tuple[str, ...]
    scale: Scale
    weight: NDArray[np.float32]
    sharpness: float
    knowledge_version: str
    stories_digest: str
    stories_count: int
    sense: Sense | None = None

    @classmethod
    def train(
        cls, stories: Sequence[Story], knowledge: Knowledge, *, model: SentenceModel | None = None
    ) -> Self:
        """Return a classifier trained on stories and on the knowledge's own words.

        Takes about 10 s for 5,000 stories on two cores, about 2 minutes with a sentence model;
        nothing in it is left to chance.

        Parameters
        ----------
        stories : sequence of Story
        knowledge : Knowledge
            What it says of each fault counts as further stories.
        model : SentenceModel, optional
            To be told more by; the classifier then needs it for every text.

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
        told = [story.text for story in taught]
        meanings = None if model is None else Meanings.of(told, model, centred_on=len(stories))
        texts = Taught(
            words=multiply_rows(rows, len(scale.weight)),
            meaning=None if meanings is None else meanings.multiply(),
            target=_targets(taught, knowledge),
            weight=np.array([story.weight for story in taught]),
        )
        asked, scores = score_held_out(texts, len(stories))
        main = np.array([knowledge.network.fault_at[stories[at].faults[0]] for at in asked])
        # Every fault counts the same, however many stories it has.
        share = texts.weight[asked] / np.bincount(main)[main]
        dual = fit_dual(texts)
        return cls(
            faults=tuple(knowledge.faults),
            scale=scale,
            weight=multiply_columns(rows, dual.words, len(scale.weight)),
            sharpness=fit_sharpness(scores, main, share),
            knowledge_version=knowledge.version,
            stories_digest=digest_stories(stories),
            stories_count=len(stories),
            sense=None if meanings is None else meanings.weigh(dual.meaning),
        )

    def score(self, text: str) -> Floats:
        """Return ln P(text | fault), shape (faults,), up to a constant common to all.

        As the stories have it: `log_ratios` believes less. All are 0 for a text of which the
        classifier knows nothing.
        """
        at, value = self.scale.weigh(count_features(text))
        if not at.size:
            return np.zeros(len(self.faults))
        score = np.asarray(value @ self.weight[at], dtype=np.float64)
        if self.sense is not None:
            score = score + self.sense.score(text)
        return score * self.sharpness

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
        ratios = log_ratios(score, prior, unlike=UNLIKE)
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
                centre=np.zeros(0) if self.sense is None else self.sense.centre,
                sense=np.zeros(0) if self.sense is None else self.sense.weight,
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
            If the file cannot be read, is no classifier, was trained by other code or with a
            sentence model that is not installed, or is one of other faults.
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
            sense=_load_sense(path.name, parts["centre"], parts["sense"]),
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


def load_or_train(
    folder: Path,
    stories: Sequence[Story],
    knowledge: Knowledge,
    *,
    model: SentenceModel | None = None,
) -> TextClassifier:
    """Return the classifier of some stories, kept in a folder because training takes seconds.

    Parameters
    ----------
    folder : Path
        Where a file named after the state of the knowledge and the stories is looked for, and
        written when it is not there or cannot be used. A folder that cannot be written only
        costs the time again.
    stories : sequence of Story
    knowledge : Knowledge
    model : SentenceModel, optional
        As for `TextClassifier.train`; with and without are kept apart.

    Returns
    -------
    TextClassifier
    """
    kind = "reader" if model is None else "meaning"
    kept = folder / f"{kind}-{knowledge.version}-{digest_stories(stories)}.npz"
    try:
        return TextClassifier.load(kept, knowledge)
    except InputError:
        trained = TextClassifier.train(stories, knowledge, model=model)
    with suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        unfinished = kept.with_name(f"{kept.stem}-{os.getpid()}.unfinished")
        trained.save(unfinished)
        unfinished.replace(kept)
        _remove_older(folder, kind)
    return trained


def _remove_older(folder: Path, kind: str) -> None:
    """Remove the files of earlier states but for a few; one that is gone already is no fault."""
    written = sorted(folder.glob(f"{kind}-*.npz"), key=lambda path: path.stat().st_mtime_ns)
    for path in written[:-FILES_KEPT]:
        path.unlink(missing_ok=True)


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


def _load_sense(name: str, centre: Singles, weight: Singles) -> Sense | None:
    """Return what meaning adds by the parts of a file, None when it was trained without."""
    if not weight.size:
        return None
    model = load_sentence_model()
    if model is None:
        msg = f"'{name}' was trained with the sentence model, which is not installed here"
        raise InputError(msg)
    return Sense(model, centre, weight)


def _targets(stories: Sequence[Story], knowledge: Knowledge) -> Floats:
    """Return the share of each fault in each story, shape (stories, faults)."""
    target = np.zeros((len(stories), len(knowledge.faults)))
    for row, story in enumerate(stories):
        for fault in story.faults:
            if fault not in knowledge.faults:
                raise UnknownIdError("fault", fault, knowledge.faults)
            target[row, knowledge.network.fault_at[fault]] = 1.0 / len(story.faults)
    return target
