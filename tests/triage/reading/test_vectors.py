"""Sparse vectors and their products."""

import numpy as np
import pytest

from triage.reading import vectors
from triage.reading.vectors import Scale, SparseRows, multiply_columns, multiply_rows


def make_rows(seed: int = 5) -> tuple[SparseRows, np.ndarray]:
    """Return sparse rows, some columns full and some nearly empty, and the same as a matrix."""
    chance = np.random.default_rng(seed)
    filled = chance.random((80, 30)) < np.linspace(0.02, 0.95, 30)
    full = np.where(filled, chance.normal(size=filled.shape), 0.0)
    row, at = np.nonzero(full)
    start = np.searchsorted(row, np.arange(81))
    return SparseRows(start, at, full[row, at]), full


@pytest.mark.parametrize("block", [1, 4, 2048])
@pytest.mark.parametrize("dense_texts", [0, 20, 1000])
def test_products_of_rows_are_those_of_the_matrix(
    monkeypatch: pytest.MonkeyPatch, block: int, dense_texts: int
) -> None:
    """However the columns are shared out between the two ways."""
    monkeypatch.setattr(vectors, "DENSE_BLOCK", block)
    monkeypatch.setattr(vectors, "DENSE_TEXTS", dense_texts)
    rows, full = make_rows()

    assert multiply_rows(rows, 30) == pytest.approx(full @ full.T, abs=1e-4)


def test_products_of_columns_are_those_of_the_matrix() -> None:
    rows, full = make_rows()
    dual = np.random.default_rng(1).normal(size=(80, 3))

    assert multiply_columns(rows, dual, 30) == pytest.approx(full.T @ dual, abs=1e-4)


def test_scale_weighs_the_rare_more_and_leaves_single_ones_out() -> None:
    scale = Scale.fit(
        [{"often": 1.0, "rare": 1.0}, {"often": 1.0, "rare": 1.0}, {"often": 1.0, "once": 1.0}]
    )

    assert set(scale.columns) == {"often", "rare"}
    assert scale.weight[scale.columns["rare"]] > scale.weight[scale.columns["often"]] > 0.0


def test_vector_of_a_slight_text_is_short() -> None:
    """One word does not count as much as a whole report."""
    texts = [
        {f"w{at}": 1.0 for at in range(40)},
        {f"w{at}": 1.0 for at in range(40)},
        {"x": 1.0},
    ] * 20
    scale = Scale.fit(texts)

    short = np.linalg.norm(scale.weigh({"w1": 1.0})[1])
    long = np.linalg.norm(scale.weigh(texts[0])[1])
    assert short < long < 1.0


def test_vector_of_an_unknown_text_is_empty() -> None:
    at, value = Scale.fit([{"a": 1.0}, {"a": 1.0}]).weigh({"b": 1.0})

    assert len(at) == len(value) == 0
