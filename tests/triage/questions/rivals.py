"""Two rival faults whose remedies are dear, for tests of what an answer saves."""

from tests.triage.networks import make_action, make_fault, make_finding
from triage.knowledge import Fault, Finding, Knowledge, Link, build_knowledge


def make_rivals(
    *, faults: tuple[Fault, ...] = (), findings: tuple[Finding, ...] = (), **told: object
) -> Knowledge:
    """Return two faults of 90 minutes each, with findings that tell them apart.

    "told" and "twin" both say f0, "other" says f1. Further faults and findings are linked in
    pairs; `told` changes that finding.
    """
    return build_knowledge(
        faults=[make_fault("f0", prior=0.3), make_fault("f1", prior=0.3), *faults],
        findings=[
            make_finding("told", **({"leak": 0.01} | told)),
            make_finding("twin", leak=0.01),
            make_finding("other", leak=0.01),
            *findings,
        ],
        links=[
            Link("f0", "told", 0.999, "memory"),
            Link("f0", "twin", 0.999, "memory"),
            Link("f1", "other", 0.95, "memory"),
            *(
                Link(fault.id, finding.id, 0.9, "memory")
                for fault, finding in zip(faults, findings, strict=True)
            ),
        ],
        actions=[
            make_action("a0", minutes=90.0, cures={"f0": 0.95}),
            make_action("a1", minutes=90.0, cures={"f1": 0.95}),
        ],
    )
