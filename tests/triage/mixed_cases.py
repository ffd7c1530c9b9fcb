"""Small networks of both processes, and cases in them with every kind of evidence."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from hypothesis import strategies as st

from tests.triage.networks import make_action, make_fault, make_finding
from triage.evidence import Evidence, Guess, Observation, State, TriedRemedy
from triage.knowledge import Knowledge, Link, Material, Risk, build_knowledge

PROCESSES = ("MEX", "MEX", "any", "VPP")  # of the faults f0 to f3
FINDINGS = 5  # e0 to e4; each may be linked to any fault
LOOKS = (None, (1.0, 0.0), (0.0, 1.0), (0.8, 0.3), (0.2, 0.9), (0.6, 0.6))
chances = st.floats(0.05, 0.9)


@dataclass(frozen=True)
class DrawnCase:
    """A network and what is known of a case."""

    knowledge: Knowledge
    evidence: Evidence


@st.composite
def cases(draw: st.DrawFn) -> DrawnCase:
    """Draw four faults, five findings, a risk, a remedy, a material, and evidence of each kind."""
    knowledge = build_knowledge(
        faults=[
            make_fault(f"f{at}", process=process, prior=draw(st.floats(0.02, 0.6)))
            for at, process in enumerate(PROCESSES[:-1])
        ]
        + [make_fault("f3", process="VPP", prior=draw(chances), never_materials=("M",))],
        findings=[
            make_finding(f"e{at}", process="any", leak=draw(st.floats(0.01, 0.4)))
            for at in range(FINDINGS)
        ],
        links=[
            Link(f"f{fault}", f"e{at}", draw(chances), "memory")
            for fault in range(len(PROCESSES))
            for at in range(FINDINGS)
            if draw(st.booleans())
        ],
        risks=[Risk("r0", "R", "Is it so?", "any", {"f0": 3.0, "f2": 0.5}, "common-practice")],
        actions=[make_action("a0", cures={"f0": draw(chances), "f2": 0.4})],
        materials=[Material("M", "M", "any", ("m",), "memory")],
    )
    looks = [draw(st.sampled_from(LOOKS)) for _ in range(FINDINGS)]
    tried = draw(st.sampled_from((None, "no-change", "cured", "helped", "unknown")))
    evidence = Evidence(
        process=draw(st.sampled_from((None, "MEX"))),
        material=draw(st.sampled_from((None, "M"))),
        observations=tuple(
            Observation(f"e{at}", "present" if pair[0] >= pair[1] else "absent", *pair)
            for at, pair in enumerate(looks)
            if pair is not None
        ),
        risks=draw(st.sampled_from(((), ("r0",)))),
        tried=() if tried is None else (TriedRemedy("a0", tried),),  # type: ignore[arg-type]
        guesses=draw(st.sampled_from(((), (Guess("f1"),)))),
        telling=draw(st.sampled_from((0.0, 0.4))),
        text=draw(st.sampled_from(({}, {"f0": 1.2, "f2": -0.8, "f3": 0.5}))),
    )
    return DrawnCase(knowledge, evidence)


def with_finding(evidence: Evidence, finding: str, pair: tuple[float, float]) -> Evidence:
    """Return the evidence with one look at a finding instead of all others at it.

    The pair (1, 1) says that nothing is known of it; it is not silence either.
    """
    others = tuple(seen for seen in evidence.observations if seen.finding != finding)
    state: State = "present" if pair[0] >= pair[1] else "absent"
    return replace(evidence, observations=(*others, Observation(finding, state, *pair)))


def without_piece(evidence: Evidence, kind: str, name: str) -> Evidence:
    """Return the evidence without a piece."""
    if kind == "finding":
        return with_finding(evidence, name, (1.0, 1.0))
    left: dict[str, Callable[[], Evidence]] = {
        "tried": lambda: replace(evidence, tried=()),
        "risk": lambda: replace(evidence, risks=()),
        "guess": lambda: replace(evidence, guesses=()),
        "silence": lambda: replace(evidence, telling=0.0),
        "text": lambda: replace(evidence, text={}),
        "material": lambda: replace(evidence, material=None),
    }
    return left[kind]()


def with_number(
    knowledge: Knowledge, kind: str, fault: str, subject: str, value: float
) -> Knowledge:
    """Return the network with one of its numbers put to another value."""
    change: Callable[..., object] = replace
    entries: dict[str, object] = {
        "faults": knowledge.faults.values(),
        "findings": knowledge.findings.values(),
        "links": knowledge.links,
        "risks": knowledge.risks.values(),
        "actions": knowledge.actions.values(),
        "materials": knowledge.materials.values(),
    }
    if kind == "prior":
        entries["faults"] = _replaced(
            knowledge.faults, fault, change(knowledge.faults[fault], prior=value)
        )
    elif kind == "leak":
        entries["findings"] = _replaced(
            knowledge.findings, subject, change(knowledge.findings[subject], leak=value)
        )
    elif kind == "risk":
        risk = knowledge.risks[subject]
        odds = {**risk.odds, fault: value}
        entries["risks"] = _replaced(knowledge.risks, subject, change(risk, odds=odds))
    elif kind == "cure":
        action = knowledge.actions[subject]
        cures = {**action.cures, fault: value}
        entries["actions"] = _replaced(knowledge.actions, subject, change(action, cures=cures))
    else:
        entries["links"] = [
            change(link, p=value) if (link.fault, link.finding) == (fault, subject) else link
            for link in knowledge.links
        ]
    return build_knowledge(**entries)  # type: ignore[arg-type]


def _replaced(table: object, name: str, entry: object) -> list[object]:
    return [*({**table, name: entry}).values()]  # type: ignore[dict-item]
