"""General-purpose libraries as judges of the engine: PyAgrum and pgmpy, the extra `oracle`.

They take the numbers of a network, not the engine's own objects, and build their own tables.
"""

import warnings
from collections.abc import Iterable, Mapping
from importlib import import_module
from importlib.util import find_spec
from itertools import product
from math import prod
from typing import Any

Links = Mapping[tuple[int, int], float]

HAS_AGRUM = find_spec("pyagrum") is not None
HAS_PGMPY = find_spec("pgmpy") is not None


def _load(name: str) -> Any:
    """Return a library's module without its own deprecation warnings.

    Where warnings are errors, one of them ends the process inside PyAgrum's compiled part.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return import_module(name)


def agrum_answer(
    priors: list[float], leaks: list[float], links: Links, pairs: Mapping[int, tuple[float, float]]
) -> tuple[float, list[float]]:
    """Return P(evidence) and the posterior of each fault after PyAgrum.

    Its "net" noisy-OR has our convention for leaks; `pairs` are likelihoods if present, if absent.
    """
    gum = _load("pyagrum")
    network = gum.BayesNet()
    for at, prior in enumerate(priors):
        network.add(gum.LabelizedVariable(f"f{at}", "", 2))
        network.cpt(f"f{at}").fillWith([1.0 - prior, prior])
    for at, leak in enumerate(leaks):
        network.addNoisyORNet(gum.LabelizedVariable(f"e{at}", "", 2), leak)
    for (fault, finding), link in links.items():
        network.addWeightedArc(f"f{fault}", f"e{finding}", link)
    engine = gum.LazyPropagation(network)
    engine.setEvidence({f"e{at}": [no, yes] for at, (yes, no) in pairs.items()})
    evidence = float(engine.evidenceProbability()) if pairs else 1.0
    return evidence, [float(engine.posterior(f"f{at}")[1]) for at in range(len(priors))]


class PgmpyNetwork:
    """A network in pgmpy, for exact queries by variable elimination."""

    def __init__(self, priors: list[float], leaks: list[float], links: Links) -> None:
        models, tables, inference = (
            _load(f"pgmpy.{name}") for name in ("models", "factors.discrete", "inference")
        )
        model = models.DiscreteBayesianNetwork()
        model.add_nodes_from([f"f{at}" for at in range(len(priors))])
        model.add_nodes_from([f"e{at}" for at in range(len(leaks))])
        model.add_edges_from((f"f{fault}", f"e{finding}") for fault, finding in links)
        for at, prior in enumerate(priors):
            model.add_cpds(tables.TabularCPD(f"f{at}", 2, [[1.0 - prior], [prior]]))
        for at, leak in enumerate(leaks):
            parents = [fault for fault, finding in links if finding == at]
            absent = [
                (1.0 - leak)
                * prod(
                    1.0 - links[fault, at]
                    for fault, there in zip(parents, row, strict=True)
                    if there
                )
                for row in product((0, 1), repeat=len(parents))
            ]
            model.add_cpds(
                tables.TabularCPD(
                    f"e{at}",
                    2,
                    [absent, [1.0 - value for value in absent]],
                    evidence=[f"f{fault}" for fault in parents],
                    evidence_card=[2] * len(parents),
                )
            )
        self._faults = [f"f{at}" for at in range(len(priors))]
        self._engine = inference.VariableElimination(model)

    def posteriors(self, present: Iterable[int], absent: Iterable[int]) -> list[float]:
        """Return the posterior of each fault."""
        seen = _states(present, absent)
        found = self._engine.query(self._faults, evidence=seen, joint=False, show_progress=False)
        return [float(found[fault].values[1]) for fault in self._faults]

    def best_set(self, present: Iterable[int], absent: Iterable[int]) -> tuple[str, ...]:
        """Return the most probable set of faults."""
        found = self._engine.map_query(
            self._faults, evidence=_states(present, absent), show_progress=False
        )
        return tuple(fault for fault in self._faults if found[fault] == 1)


def _states(present: Iterable[int], absent: Iterable[int]) -> dict[str, int]:
    return {f"e{at}": 1 for at in present} | {f"e{at}": 0 for at in absent}
