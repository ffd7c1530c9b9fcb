"""Small networks for tests, made of plain numbers."""

from collections.abc import Mapping, Sequence

from triage.evidence import Evidence, Observation
from triage.knowledge import Action, Fault, Finding, Knowledge, Link, Risk, build_knowledge


def make_fault(name: str = "f0", **overrides: object) -> Fault:
    """Return a fault with the values given and ordinary ones for the rest."""
    values: dict[str, object] = {
        "id": name,
        "process": "MEX",
        "family": "thermal",
        "name": name.capitalize(),
        "sign": "A sign.",
        "why": "A reason.",
        "prior": 0.1,
        "source": "memory",
    }
    return Fault(**(values | overrides))  # type: ignore[arg-type]


def make_finding(name: str = "e0", **overrides: object) -> Finding:
    """Return a finding with the values given and ordinary ones for the rest."""
    values: dict[str, object] = {
        "id": name,
        "kind": "part",
        "process": "MEX",
        "name": name.capitalize(),
        "question": f"Is {name} so?",
        "leak": 0.05,
        "minutes": 1.0,
        "source": "memory",
    }
    return Finding(**(values | overrides))  # type: ignore[arg-type]


def make_action(name: str = "a0", **overrides: object) -> Action:
    """Return a remedy with the values given and ordinary ones for the rest."""
    values: dict[str, object] = {
        "id": name,
        "kind": "remedy",
        "process": "MEX",
        "name": name.capitalize(),
        "how": "Do it.",
        "minutes": 10.0,
        "source": "memory",
    }
    return Action(**(values | overrides))  # type: ignore[arg-type]


def make_network(
    priors: Sequence[float],
    leaks: Sequence[float],
    links: Mapping[tuple[int, int], float],
    *,
    actions: Sequence[Action] = (),
    risks: Sequence[Risk] = (),
) -> Knowledge:
    """Return a network of faults f0, f1, … and findings e0, e1, … with the links given."""
    return build_knowledge(
        faults=[make_fault(f"f{at}", prior=prior) for at, prior in enumerate(priors)],
        findings=[make_finding(f"e{at}", leak=leak) for at, leak in enumerate(leaks)],
        links=[Link(f"f{row}", f"e{column}", p, "memory") for (row, column), p in links.items()],
        actions=actions,
        risks=risks,
    )


def make_evidence(
    *,
    present: Sequence[int] = (),
    absent: Sequence[int] = (),
    soft: Mapping[int, tuple[float, float]] | None = None,
    process: str | None = "MEX",
    **rest: object,
) -> Evidence:
    """Return evidence about the findings e0, e1, … of `make_network`."""
    observations = [Observation(f"e{at}", "present") for at in present]
    observations += [Observation(f"e{at}", "absent") for at in absent]
    observations += [
        Observation(f"e{at}", "present" if yes >= no else "absent", yes, no)
        for at, (yes, no) in (soft or {}).items()
    ]
    return Evidence(process=process, observations=tuple(observations), **rest)  # type: ignore[arg-type]


LAYERS12X15_PRIORS = [0.02 + 0.01 * ((5 * i) % 12) for i in range(12)]  # [layers12x15]
LAYERS12X15_LEAKS = [0.01 * (1 + j % 4) for j in range(15)]  # [layers12x15]
LAYERS12X15_LINKS = {  # [layers12x15]
    (i, j): 0.1 + 0.1 * ((3 * i + 2 * j) % 9)
    for j in range(15)
    for i in range(12)
    if (i + 2 * j) % 5 == 0 or i in (j % 12, (j + 3) % 12)
}


def make_layers12x15() -> Knowledge:
    """Return the reference network of 12 causes and 15 findings [layers12x15]."""
    return make_network(LAYERS12X15_PRIORS, LAYERS12X15_LEAKS, LAYERS12X15_LINKS)


def layers12x15_evidence() -> Evidence:
    """Return the evidence the values of [layers12x15] belong to."""
    return make_evidence(present=(0, 3, 7, 10), absent=(1, 4, 6, 12))
