"""Texts as sparse vectors of unit length at most, and the table of their products."""

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.knowledge._model import Floats

LEAST_TEXTS = 2  # a feature of a single text tells nothing about another one
# Length, before scaling, at which a text says half of what it could. It keeps a few words from
# counting as much as many; least held-out log-loss on the first 3 to 25 words of stories of 6, 12,
# 20, 30 and 45 that costs whole stories nothing
SLIGHT_LENGTH = 20.0
DENSE_TEXTS = 48  # features in more texts than this are multiplied as a full matrix
DENSE_BLOCK = 1024  # columns of it held at a time
SPARSE_BLOCK = 20_000  # values multiplied at a time, each with at most `DENSE_TEXTS` others


@dataclass(frozen=True, slots=True, eq=False)
class SparseRows:
    """Sparse vectors, one after the other.

    Row i holds the values `value[start[i]:start[i + 1]]` in the columns `at` of the same places.
    """

    start: NDArray[np.intp]
    at: NDArray[np.intp]
    value: Floats

    def __len__(self) -> int:
        """Return the number of rows."""
        return len(self.start) - 1

    @property
    def row(self) -> NDArray[np.intp]:
        """The row each value belongs to."""
        return np.repeat(np.arange(len(self)), np.diff(self.start))


@dataclass(frozen=True, slots=True, eq=False)
class Scale:
    """What each feature weighs: the rarer, the more.

    `columns` maps a feature to its place; `weight`, shape (columns,), is the logarithm of how
    rare it is among the texts the scale was made from.
    """

    columns: Mapping[str, int]
    weight: Floats

    @classmethod
    def fit(cls, texts: Iterable[Mapping[str, float]]) -> "Scale":
        """Return the scale of the features that occur in `LEAST_TEXTS` texts or more.

        The texts are gone through once and none is kept.
        """
        seen: Counter[str] = Counter()
        total = 0
        for text in texts:
            seen.update(text.keys())
            total += 1
        kept = sorted(feature for feature, count in seen.items() if count >= LEAST_TEXTS)
        counts = np.array([seen[feature] for feature in kept], dtype=float)
        weight = np.log((total + 1.0) / (counts + 0.5))
        return cls({feature: at for at, feature in enumerate(kept)}, weight)

    def weigh(self, text: Mapping[str, float]) -> tuple[NDArray[np.intp], Floats]:
        """Return the columns and values of one text's vector; its length is below 1."""
        columns = self.columns
        known = [(columns[name], count) for name, count in text.items() if name in columns]
        at = np.array([place for place, _ in known], dtype=np.intp)
        # Said five times is not five times as true.
        value = np.array([count if count < 1.0 else 1.0 + math.log(count) for _, count in known])
        value = value * self.weight[at]
        return at, value / math.hypot(float(np.linalg.norm(value)), SLIGHT_LENGTH)

    def weigh_all(self, texts: Iterable[Mapping[str, float]]) -> SparseRows:
        """Return the vectors of several texts."""
        weighed = [self.weigh(text) for text in texts]
        start = np.cumsum([0, *(len(at) for at, _ in weighed)])
        return SparseRows(
            start,
            np.concatenate([at for at, _ in weighed]),
            np.concatenate([value for _, value in weighed]),
        )


def multiply_rows(rows: SparseRows, columns: int) -> NDArray[np.float32]:
    """Return the products of all rows with each other, shape (rows, rows), in single precision.

    Columns with many values are multiplied as a full matrix, the others value by value: neither
    way alone is fast for the columns of the other kind.
    """
    count = len(rows)
    filled = np.bincount(rows.at, minlength=columns)
    full = np.flatnonzero(filled > DENSE_TEXTS)
    place = np.full(columns, -1)
    place[full] = np.arange(len(full))
    to, row = place[rows.at], rows.row
    product = np.zeros((count, count), dtype=np.float32)
    for first in range(0, len(full), DENSE_BLOCK):
        width = min(DENSE_BLOCK, len(full) - first)
        here = (to >= first) & (to < first + width)
        block = np.zeros((count, width), dtype=np.float32)
        block[row[here], to[here] - first] = rows.value[here]
        product += block @ block.T
    rest = to < 0
    _add_products(product, rows.at[rest], row[rest], rows.value[rest])
    return product


def multiply_columns(rows: SparseRows, dual: Floats, columns: int) -> NDArray[np.float32]:
    """Return the rows' columns times some dual weights, shape (columns, classes).

    `dual` has shape (rows, classes).
    """
    product = np.zeros((columns, dual.shape[1]), dtype=np.float32)
    row = rows.row
    for at, weight in enumerate(dual.T):
        product[:, at] = np.bincount(rows.at, rows.value * weight[row], minlength=columns)
    return product


def _add_products(
    product: NDArray[np.float32], at: NDArray[np.intp], row: NDArray[np.intp], value: Floats
) -> None:
    """Add to the table the product of every two values in one column, where their rows meet."""
    order = np.argsort(at, kind="stable")
    at, row, value = at[order], row[order], value[order]
    starts = np.searchsorted(at, at, side="left")
    widths = np.searchsorted(at, at, side="right") - starts
    table = product.reshape(-1)
    for begin in range(0, len(at), SPARSE_BLOCK):
        here = slice(begin, begin + SPARSE_BLOCK)
        width = widths[here]
        first = np.repeat(np.arange(len(at))[here], width)
        offset = np.arange(len(first)) - np.repeat(np.cumsum(width) - width, width)
        second = np.repeat(starts[here], width) + offset
        met = row[first] * len(product) + row[second]
        np.add.at(table, met, (value[first] * value[second]).astype(np.float32))
