"""The joint posterior by listing all sets of faults, for small networks."""

import math

import numpy as np

from triage.errors import ImpossibleEvidenceError, OutOfRangeError
from triage.evidence import Evidence
from triage.inference._case import check_ids
from triage.inference._hypothesis import make_hypotheses
from triage.knowledge import Knowledge
from triage.knowledge._model import Bools, Floats

MAX_LISTED = 16  # faults; 2^16 sets take 8 MB


def list_fault_sets(knowledge: Knowledge) -> Bools:
    """Return every set of faults as a row.

    Returns
    -------
    array of bool, shape (2^faults, faults)

    Raises
    ------
    OutOfRangeError
        If there are more than `MAX_LISTED` faults.
    """
    count = len(knowledge.faults)
    if count > MAX_LISTED:
        msg = f"{count} faults make too many sets to list; the limit is {MAX_LISTED} faults"
        raise OutOfRangeError(msg)
    return (np.arange(1 << count)[:, None] >> np.arange(count) & 1).astype(bool)


def compute_joint(knowledge: Knowledge, evidence: Evidence) -> Floats:
    """Return the posterior probability of every set of faults.

    Parameters
    ----------
    knowledge : Knowledge
        With at most `MAX_LISTED` faults.
    evidence : Evidence

    Returns
    -------
    array, shape (2^faults,)
        In the order of `list_fault_sets`.

    Raises
    ------
    OutOfRangeError, UnknownIdError, ImpossibleEvidenceError
    """
    check_ids(knowledge, evidence)
    sets = list_fault_sets(knowledge)
    total = np.zeros(len(sets))
    for hypothesis in make_hypotheses(knowledge, evidence)[0]:
        case = hypothesis.case
        chance = np.where(sets, case.prior * case.weight, 1.0 - case.prior).prod(axis=1)
        for bit in case.bits:
            absent = (1.0 - bit.leak) * np.where(sets, 1.0 - bit.link, 1.0).prod(axis=1)
            chance *= bit.if_present * (1.0 - absent) + bit.if_absent * absent
        total += chance * math.exp(case.log_constant + hypothesis.log_prior)
    if total.sum() == 0.0:
        msg = "the evidence has probability 0: nothing in the knowledge can cause it"
        raise ImpossibleEvidenceError(msg)
    return np.asarray(total / total.sum())
