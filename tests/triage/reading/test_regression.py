"""Softmax regression: against scikit-learn, and against its own definition."""

import warnings
from importlib import import_module
from importlib.util import find_spec
from typing import Any

import numpy as np
import pytest

from triage.reading.regression import factor_positive, fit_softmax, softmax, solve_positive
from triage.reading.sharpness import fit_sharpness, log_ratios

needs_sklearn = pytest.mark.skipif(
    find_spec("sklearn") is None, reason="scikit-learn is missing; it is in the extra 'oracle'"
)


def make_texts(seed: int = 3, count: int = 90) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return vectors, classes and weights of made-up texts."""
    chance = np.random.default_rng(seed)
    main = chance.integers(0, 4, count)
    vectors = chance.normal(size=(count, 12)) + 0.8 * np.eye(4, 12)[main]
    return vectors, main, chance.uniform(0.3, 2.0, count)


def load_sklearn(name: str) -> Any:
    """Return a module of scikit-learn without its own deprecation warnings."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return import_module(f"sklearn.{name}")


@needs_sklearn
@pytest.mark.parametrize("penalty", [0.3, 2.0])
def test_softmax_fit_equals_logistic_regression_of_scikit_learn(penalty: float) -> None:
    """Same objective, another algorithm: weights agree to single precision."""
    vectors, main, weight = make_texts()
    judge = load_sklearn("linear_model").LogisticRegression(
        C=1.0 / penalty, fit_intercept=False, tol=1e-10, max_iter=5000
    )
    judge.fit(vectors, main, sample_weight=weight)
    product = (vectors @ vectors.T).astype(np.float32)

    dual = fit_softmax(product, np.eye(4)[main], weight, penalty=penalty, steps=800)

    # scikit-learn's weights add up to 0 over the classes, as ours do.
    assert vectors.T @ dual == pytest.approx(judge.coef_.T, abs=2e-3)


@needs_sklearn
def test_one_step_equals_kernel_ridge_of_scikit_learn() -> None:
    """From nothing, a step is the ridge regression of twice the difference to even shares."""
    vectors, main, _ = make_texts()
    target = np.eye(4)[main]
    judge = load_sklearn("kernel_ridge").KernelRidge(alpha=1.6, kernel="precomputed")
    judge.fit(vectors @ vectors.T, 2.0 * (target - 0.25))
    product = (vectors @ vectors.T).astype(np.float32)

    dual = fit_softmax(product, target, np.ones(len(main)), penalty=0.8, steps=1)

    assert dual == pytest.approx(judge.dual_coef_, abs=1e-4)


@needs_sklearn
def test_sharpness_is_the_one_of_least_log_loss_of_scikit_learn() -> None:
    """No factor near it gives a lower log-loss."""
    vectors, main, weight = make_texts()
    score = 0.4 * vectors[:, :4]
    log_loss = load_sklearn("metrics").log_loss

    factor = fit_sharpness(score, main, weight)

    def loss(tried: float) -> float:
        return float(log_loss(main, softmax(tried * score), sample_weight=weight))

    assert loss(factor) < min(loss(factor * 0.98), loss(factor * 1.02))


def test_softmax_fit_has_no_slope_left() -> None:
    """At the minimum the penalty times the dual is the weighted error."""
    vectors, main, weight = make_texts()
    product = vectors @ vectors.T
    target = np.eye(4)[main]

    dual = fit_softmax(product.astype(np.float32), target, weight, penalty=1.0, steps=800)

    error = weight[:, None] * (target - softmax(product @ dual))
    assert dual == pytest.approx(error, abs=2e-3)


@pytest.mark.parametrize("count", [1, 7, 256, 257, 600, 1500])
def test_factor_solves_what_a_general_solver_solves(count: int) -> None:
    """Single precision by blocks agrees with NumPy's solver in double precision."""
    chance = np.random.default_rng(count)
    vectors = chance.normal(size=(count, 40)) / np.sqrt(count)
    matrix = vectors @ vectors.T + 0.5 * np.eye(count)
    wanted = chance.normal(size=(count, 3))

    found = solve_positive(factor_positive(matrix.astype(np.float32)), wanted.astype(np.float32))

    # Single precision, its error grown by the spread of the eigenvalues, about 10.
    assert found == pytest.approx(np.linalg.solve(matrix, wanted), abs=1e-4)


def test_factor_stands_a_wide_spread_of_eigenvalues() -> None:
    """Where all texts are much alike, as long ones are, the solution still fits."""
    chance = np.random.default_rng(5)
    vectors = 0.9 + 0.1 * chance.normal(size=(1200, 60))
    matrix = vectors @ vectors.T / 60 + 0.5 * np.eye(1200)
    wanted = chance.normal(size=(1200, 3))

    found = solve_positive(factor_positive(matrix.astype(np.float32)), wanted.astype(np.float32))

    # The largest eigenvalue is about 1,000, the smallest 0.5.
    assert matrix @ found == pytest.approx(wanted, abs=2e-3)


def test_sharpness_of_scores_that_tell_nothing_is_none() -> None:
    """Scores against the truth are not turned round."""
    score = np.eye(3)[[1, 2, 0]]

    assert fit_sharpness(score, np.array([0, 1, 2]), np.ones(3)) == 0.0


def test_ratios_mean_one_by_the_prior() -> None:
    """So a text tells of shares among faults, and not that there are more of them."""
    prior = np.array([0.2, 0.1, 0.02, 0.0])
    likelihood = np.array([3.0, -1.0, 2.0, 9.0])

    ratio = np.exp(log_ratios(likelihood, prior, unlike=0.1))

    assert ratio @ prior / prior.sum() == pytest.approx(1.0)
    assert ratio[0] / ratio[2] == pytest.approx(
        (0.9 * np.exp(3.0) + 0.1 * _mean(likelihood, prior))
        / (0.9 * np.exp(2.0) + 0.1 * _mean(likelihood, prior))
    )
    assert ratio.min() >= 0.1


def _mean(likelihood: np.ndarray, prior: np.ndarray) -> float:
    return float(np.exp(likelihood) @ prior / prior.sum())


def test_ratios_of_a_text_that_fits_all_alike_are_one() -> None:
    prior = np.array([0.2, 0.1, 0.02])

    assert log_ratios(np.full(3, 4.2), prior, unlike=0.1) == pytest.approx(np.zeros(3))
