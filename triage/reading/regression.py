"""Softmax regression on inner products: which class a text belongs to, by least log-loss."""

import math

import numpy as np
from numpy.typing import NDArray

from triage.knowledge._model import Floats

Singles = NDArray[np.float32]
BLOCK = 256  # rows that are factored at once
STRIP = 1024  # rows of the rest that are brought up to date at once


def fit_softmax(
    product: Singles, target: Floats, weight: Floats, *, penalty: float, steps: int
) -> Floats:
    """Return the dual weights A of softmax regression without intercept.

    A text's scores are its inner products with the texts, times A. They minimise
    Σ weight · cross-entropy(target, softmax(score)) + penalty / 2 · ‖W‖², W being the weights of
    the features.

    Parameters
    ----------
    product : array, shape (texts, texts)
        Inner products of the texts, in single precision, which is enough beside the penalty.
        Overwritten, as thousands of texts leave no room for a second table.
    target : array, shape (texts, classes)
        Share of each class in a text; rows add up to 1.
    weight : array, shape (texts,), above 0
        What each text counts for.
    penalty : float, above 0
    steps : int, at least 1
        Fewer than it takes to converge also keep the weights small.

    Returns
    -------
    array, shape (texts, classes)

    Notes
    -----
    No softmax curves more than half as much as a square, so each step solves the ridge
    regression that bounds the loss from above and touches it, always with the same matrix; steps
    are stretched by Nesterov's rule. Sources: [bohning1992] for the bound, [nesterov1983].
    """
    shrink = 2.0 * penalty / weight[:, None]
    product[np.diag_indices_from(product)] += shrink[:, 0].astype(np.float32)
    factor = factor_positive(product)
    at = before = np.zeros_like(target)
    dual = at
    momentum = 1.0
    for _ in range(steps):
        wanted = at + 2.0 * (target - softmax(at))
        dual = solve_positive(factor, wanted.astype(np.float32)).astype(np.float64)
        # The scores of the texts themselves, products times dual, without multiplying again.
        score = wanted - shrink * dual
        faster = (1.0 + math.sqrt(1.0 + 4.0 * momentum**2)) / 2.0
        at = score + (momentum - 1.0) / faster * (score - before)
        before, momentum = score, faster
    return dual


def softmax(values: Floats) -> Floats:
    """Return each row as shares that add up to 1."""
    raised = np.exp(values - values.max(axis=-1, keepdims=True))
    return np.asarray(raised / raised.sum(axis=-1, keepdims=True))


def factor_positive(matrix: Singles) -> Singles:
    """Return the Cholesky factor L of a symmetric positive definite matrix, in its own place.

    Block by block, so that single precision is enough where an explicit inverse of the whole is
    not. The lower triangle holds L, but each square on the diagonal holds the inverse of L's.
    """
    count = len(matrix)
    for first in range(0, count, BLOCK):
        last = min(first + BLOCK, count)
        inner = np.linalg.inv(np.linalg.cholesky(matrix[first:last, first:last]))
        matrix[first:last, first:last] = inner
        below = matrix[last:, first:last] @ inner.T
        matrix[last:, first:last] = below
        for top in range(last, count, STRIP):  # a whole table more would fill the memory
            rows = slice(top, min(top + STRIP, count))
            matrix[rows, last : rows.stop] -= below[rows.start - last : rows.stop - last] @ (
                below[: rows.stop - last].T
            )
    return matrix


def solve_positive(factor: Singles, wanted: Singles) -> Singles:
    """Return x with L Lᵀ x = wanted, L being what `factor_positive` returned."""
    count = len(factor)
    solved = wanted.copy()
    starts = range(0, count, BLOCK)
    for first in starts:
        here = slice(first, min(first + BLOCK, count))
        solved[here] -= factor[here, :first] @ solved[:first]
        solved[here] = factor[here, here] @ solved[here]
    for first in reversed(starts):
        here = slice(first, min(first + BLOCK, count))
        solved[here] -= factor[here.stop :, here].T @ solved[here.stop :]
        solved[here] = factor[here, here].T @ solved[here]
    return solved
