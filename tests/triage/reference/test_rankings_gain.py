"""Measures of rankings with published examples."""

import pytest

from triage.workings.rankings import discounted_gain, normalized_gain, reciprocal_rank


@pytest.mark.source("jarvelin2002")
def test_discounted_gain_of_six_documents() -> None:
    """3, 2, 3, 0, 1, 2 give 6.861, the same six in the best order 7.141."""
    assert discounted_gain([3, 2, 3, 0, 1, 2]) == pytest.approx(6.861, abs=5e-4)
    assert discounted_gain([3, 3, 2, 2, 1, 0]) == pytest.approx(7.141, abs=5e-4)


@pytest.mark.source("jarvelin2002")
def test_normalized_gain_against_the_same_six_and_against_all_known() -> None:
    """0.9608 against the best order of the six; 0.785 where two more documents are known."""
    six = {"a": 3.0, "b": 2.0, "c": 3.0, "d": 0.0, "e": 1.0, "f": 2.0}

    assert normalized_gain("abcdef", six, 6) == pytest.approx(0.9608, abs=5e-5)
    known = six | {"g": 3.0, "h": 2.0}
    assert normalized_gain("abcdef", known, 6) == pytest.approx(0.785, abs=5e-4)
    assert discounted_gain([3, 3, 3, 2, 2, 2]) == pytest.approx(8.740, abs=5e-4)


@pytest.mark.source("scikitlearn2025")
def test_normalized_gain_of_the_documentation() -> None:
    """Truth 10, 0, 0, 1, 5: gain 9.49 and 0.69 in one order, 0.49 and 0.35 in another."""
    truth = {"a": 10.0, "b": 0.0, "c": 0.0, "d": 1.0, "e": 5.0}

    # Scores .1, .2, .3, 4, 70 and .05, 1.1, 1, .5, 0 put the five in these orders.
    first, second = "edcba", "bcdae"
    assert discounted_gain([truth[name] for name in first]) == pytest.approx(9.49, abs=0.01)
    assert normalized_gain(first, truth, 5) == pytest.approx(0.69, abs=0.01)
    assert normalized_gain(second, truth, 5) == pytest.approx(0.49, abs=0.01)
    assert normalized_gain(second, truth, 4) == pytest.approx(0.35, abs=0.01)


@pytest.mark.source("voorhees1999")
def test_mean_reciprocal_rank_of_three_queries() -> None:
    """Ranks 3, 2 and 1: 11/18, printed as 0.611."""
    queries = [
        (("catten", "cati", "cats"), "cats"),
        (("torii", "tori", "toruses"), "tori"),
        (("viruses", "virii", "viri"), "viruses"),
    ]

    ranks = [reciprocal_rank(ranking, [wanted]) for ranking, wanted in queries]

    assert sum(ranks) / 3 == pytest.approx(0.611, abs=5e-4)
    assert sum(ranks) / 3 == pytest.approx(11 / 18, abs=1e-15)
