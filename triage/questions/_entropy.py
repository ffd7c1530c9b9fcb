"""The joint entropy of the faults, for small networks: the yardstick of the marginal one."""

import numpy as np

from triage.evidence import Evidence
from triage.inference import compute_joint, list_fault_sets
from triage.knowledge import Knowledge
from triage.questions._decisions import information_gain_bits


def expected_joint_drop(knowledge: Knowledge, evidence: Evidence, finding: str) -> float:
    """Return the expected drop of the *joint* entropy of the faults from one question, bits.

    For small networks: it lists all sets of faults.

    Parameters
    ----------
    knowledge : Knowledge
        With at most 16 faults.
    evidence : Evidence
    finding : str
        Finding not observed yet.

    Returns
    -------
    float
        The mutual information of the finding and the set of faults; 0 or more.
    """
    network = knowledge.network
    at = network.finding_at[finding]
    sets = list_fault_sets(knowledge)
    absent = (1.0 - network.leak[at]) * np.where(sets, 1.0 - network.link[:, at], 1.0).prod(axis=1)
    return information_gain_bits(
        compute_joint(knowledge, evidence), np.column_stack((absent, 1.0 - absent))
    )


def joint_entropy_bits(knowledge: Knowledge, evidence: Evidence) -> float:
    """Return the joint entropy of the faults in bits, listing all sets of at most 16 faults."""
    joint = compute_joint(knowledge, evidence)
    some = joint[joint > 0.0]
    return float(-(some * np.log2(some)).sum())
