"""Networks, and what was seen in them, drawn for tests of laws."""

from dataclasses import dataclass

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from tests.triage.networks import make_evidence, make_network
from tests.triage.oracle import Judged, judge
from triage.evidence import Evidence
from triage.knowledge import Knowledge

# A busy machine is no failure of ours.
PATIENT = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])

chances = st.floats(0.001, 0.999)
priors = st.one_of(st.just(0.0), st.floats(1e-6, 0.9))
pairs = st.one_of(
    st.sampled_from([(1.0, 0.0), (0.0, 1.0)]),
    st.tuples(st.floats(0.01, 1.0), st.floats(0.01, 1.0)),
)


@dataclass(frozen=True)
class Drawn:
    """A network and what was seen in it."""

    priors: list[float]
    leaks: list[float]
    links: dict[tuple[int, int], float]
    pairs: dict[int, tuple[float, float]]

    @property
    def knowledge(self) -> Knowledge:
        """The network as the engine takes it."""
        return make_network(self.priors, self.leaks, self.links)

    @property
    def evidence(self) -> Evidence:
        """What was seen as the engine takes it."""
        return make_evidence(soft=self.pairs)

    def judge(self) -> Judged:
        """Return the exact answer."""
        return judge(self.priors, self.leaks, self.links, self.pairs)


@st.composite
def networks(draw: st.DrawFn, most_faults: int = 5, most_findings: int = 6) -> Drawn:
    """Draw some faults and findings, any links, any findings observed."""
    faults = draw(st.integers(1, most_faults))
    findings = draw(st.integers(1, most_findings))
    places = st.tuples(st.integers(0, faults - 1), st.integers(0, findings - 1))
    return Drawn(
        priors=draw(st.lists(priors, min_size=faults, max_size=faults)),
        leaks=draw(st.lists(chances, min_size=findings, max_size=findings)),
        links=draw(st.dictionaries(places, chances, max_size=faults * findings)),
        pairs=draw(st.dictionaries(st.integers(0, findings - 1), pairs, max_size=findings)),
    )


@st.composite
def extreme_networks(draw: st.DrawFn) -> Drawn:
    """Draw a network whose numbers are 0 and 1 as often as not, with findings seen surely."""
    faults = draw(st.integers(1, 4))
    findings = draw(st.integers(1, 4))
    places = st.tuples(st.integers(0, faults - 1), st.integers(0, findings - 1))
    numbers = st.sampled_from([0.0, 0.3, 1.0])
    seen = st.sampled_from([(1.0, 0.0), (0.0, 1.0), (0.8, 0.1)])
    return Drawn(
        priors=draw(st.lists(numbers, min_size=faults, max_size=faults)),
        leaks=draw(st.lists(numbers, min_size=findings, max_size=findings)),
        links=draw(st.dictionaries(places, st.sampled_from([0.5, 1.0]))),
        pairs=draw(st.dictionaries(st.integers(0, findings - 1), seen, max_size=findings)),
    )
