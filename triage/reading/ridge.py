"""Kernel ridge regression in closed form, with what it would say of each text left out."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.knowledge._model import Floats

Singles = NDArray[np.float32]
SMALL = 256  # rows from which halving is faster than a plain inverse


@dataclass(frozen=True, slots=True, eq=False)
class RidgeFit:
    """The dual weights and the leave-one-out predictions, both of shape (texts, classes)."""

    dual: Floats
    left_out: Floats


def fit_ridge(product: Singles, target: Floats, penalty: Floats) -> RidgeFit:
    """Return the ridge fit of some targets.

    Parameters
    ----------
    product : array, shape (texts, texts)
        Inner products of the texts; single precision is enough beside the penalty.
    target : array, shape (texts, classes)
    penalty : array, shape (texts,), above 0
        What a text's error is divided by; larger for a text that counts less.

    Returns
    -------
    RidgeFit

    Notes
    -----
    With H = K·(K + P)⁻¹, a text's prediction without it is y - ((K + P)⁻¹y) / ((K + P)⁻¹) on the
    diagonal: no text is fitted twice. Source: [hastie2009], section 7.10 for the formula.
    """
    inverse = invert_positive(product + np.diag(penalty.astype(np.float32)))
    dual = (inverse @ target.astype(np.float32)).astype(np.float64)
    return RidgeFit(dual, target - dual / np.diag(inverse).astype(np.float64)[:, None])


def invert_positive(matrix: Singles) -> Singles:
    """Return the inverse of a symmetric positive definite matrix.

    By halves, which is nearly all products of matrices, and half the work of an inverse that
    does not know of the symmetry.
    """
    count = len(matrix)
    if count <= SMALL:
        return np.asarray(np.linalg.inv(matrix))
    half = count // 2
    first = invert_positive(matrix[:half, :half])
    across = first @ matrix[:half, half:]
    second = invert_positive(matrix[half:, half:] - matrix[half:, :half] @ across)
    corner = across @ second
    return np.block([[first + corner @ across.T, -corner], [-corner.T, second]])
