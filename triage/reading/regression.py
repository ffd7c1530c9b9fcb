"""Softmax regression on inner products: which class a text belongs to, by least log-loss."""

import math

import numpy as np
from numpy.typing import NDArray

from triage.knowledge._model import Floats

Singles = NDArray[np.float32]
SMALL = 256  # rows from which halving is faster than a plain inverse


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
    inverse = invert_positive(product)
    at = before = np.zeros_like(target)
    dual = at
    momentum = 1.0
    for _ in range(steps):
        wanted = at + 2.0 * (target - softmax(at))
        dual = (inverse @ wanted.astype(np.float32)).astype(np.float64)
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


def invert_positive(matrix: Singles) -> Singles:
    """Return the inverse of a symmetric positive definite matrix, in its own place.

    By halves, which is nearly all products of matrices, and half the work of an inverse that
    does not know of the symmetry.
    """
    count = len(matrix)
    if count <= SMALL:
        matrix[:] = np.linalg.inv(matrix)
        return matrix
    half = count // 2
    first = invert_positive(matrix[:half, :half])
    across = first @ matrix[:half, half:]
    matrix[half:, half:] -= matrix[half:, :half] @ across
    second = invert_positive(matrix[half:, half:])
    matrix[:half, half:] = across @ second
    matrix[half:, :half] = matrix[:half, half:].T
    first += matrix[:half, half:] @ across.T
    matrix[:half, half:] *= -1.0
    matrix[half:, :half] *= -1.0
    return matrix
