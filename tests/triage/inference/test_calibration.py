"""Of what is called likely, as much comes true as was said: on cases drawn from the network."""

import numpy as np
import pytest

from tests.triage.draws import Habits, draw_cases
from tests.triage.networks import make_action, make_layers12x15, make_network
from triage.inference import compute_posterior, list_explanations
from triage.knowledge import Knowledge
from triage.workings.forecasts import calibration_error, reliability_table

CASES = 400
FAR = 4.0  # standard deviations by which chance alone does not go


def with_remedies() -> Knowledge:
    """Return six faults, eight findings and a remedy that cures two of the faults."""
    links = {(i, j): 0.2 + 0.1 * ((3 * i + j) % 7) for i in range(6) for j in range(8) if i != j}
    return make_network(
        [0.05 + 0.06 * at for at in range(6)],
        [0.01 + 0.02 * (at % 3) for at in range(8)],
        links,
        actions=[make_action("a0", cures={"f1": 0.9, "f4": 0.6})],
    )


@pytest.mark.parametrize("knowledge", [make_layers12x15(), with_remedies()], ids=["12x15", "tried"])
def test_probabilities_come_true_as_often_as_they_say(knowledge: Knowledge) -> None:
    """In every bin of forecasts the share that came true is within chance of the forecast."""
    chances: list[float] = []
    happened: list[bool] = []
    for case in draw_cases(knowledge, 20261125, CASES, Habits(looked=6, doubtful=2, telling=0.0)):
        posterior = compute_posterior(knowledge, case.evidence)
        for name, chance in posterior.chances.items():
            if chance > 0.0:
                chances.append(chance)
                happened.append(name in case.faults)

    rows = reliability_table(happened, chances)

    assert len(rows) == 10
    for row in rows:
        spread = np.sqrt(row.forecast * (1.0 - row.forecast) / row.count)
        assert abs(row.observed - row.forecast) < FAR * spread
    assert calibration_error(happened, chances) < 0.03  # chance alone makes 0.01 to 0.02 of that


def test_best_sets_come_true_as_often_as_they_say() -> None:
    """The best set of faults is exactly the truth with the probability stated."""
    knowledge = make_layers12x15()
    chances: list[float] = []
    happened: list[bool] = []
    for case in draw_cases(knowledge, 20261125, CASES, Habits(looked=8, doubtful=2, telling=0.0)):
        (best,) = list_explanations(
            knowledge, compute_posterior(knowledge, case.evidence), limit=1
        ).sets
        chances.append(best.probability)
        happened.append(set(best.faults) == case.faults)

    spread = np.sqrt(np.sum(np.array(chances) * (1.0 - np.array(chances))))
    assert abs(sum(happened) - sum(chances)) < FAR * spread
