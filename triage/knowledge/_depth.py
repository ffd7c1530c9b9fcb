"""Checks that the knowledge is deep enough: that it can tell faults apart and is in its right mind.

Beside the references and gaps of `check_knowledge`, which even a small network has to pass.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from itertools import combinations
from typing import NamedTuple

import numpy as np

from triage.errors import Problem, suggest
from triage.knowledge._model import ANY_PROCESS, PROCESSES, Entries, Floats, Knowledge, applies_to

# A link from here on makes its finding a sign of the fault [judgement: desk, 2026-11-25]
SIGN_LINK = 0.2
NEIGHBOURS = 3  # faults most like a fault that checks must tell it from
LEAST_SIGNS = 4  # signs a fault needs to be reached at all [judgement: desk, 2026-11-25]
# Difference between two links from which a check tells two faults apart
# [judgement: desk, 2026-11-25]
TELLING_DIFFERENCE = 0.3
# Expected number of faults at work in a failed print of one process: a print fails for at
# least about one reason and seldom for more than two [judgement: desk, 2026-11-25]
FAULTS_AT_WORK = (0.8, 2.2)
SAME_WORDS = 0.8  # share of words from which two names say the same
# Two findings whose faults agree this well and whose names share so many words are one
# [judgement: desk, 2026-11-25]
SAME_COLUMN, LIKE_WORDS = 0.995, 0.4
_SMALL_WORDS = re.compile(
    r"\b(a|an|and|are|as|at|be|by|for|from|has|have|in|is|it|its|of|off|on|one|or|out|so|than|that"
    r"|the|to|too|up|very|when|while|with)\b"
)


class _Limit(NamedTuple):
    """The range in which a number makes sense, and its unit."""

    low: float
    high: float
    unit: str


# Generous, so that only a slip of the pen is outside [judgement: desk, 2026-11-25]
ACTION_LIMITS: Mapping[str, _Limit] = {
    "minutes": _Limit(0.5, 240.0, "min"),
    "wait_minutes": _Limit(0.0, 43_200.0, "min"),
    "money": _Limit(0.0, 500.0, "units of about one euro"),
}
FINDING_LIMITS: Mapping[str, _Limit] = {
    "minutes": _Limit(0.25, 60.0, "min"),
    "leak": _Limit(0.0, 0.3, "probability"),
}
MATERIAL_LIMITS: Mapping[str, _Limit] = {
    "nozzle_c": _Limit(150.0, 450.0, "°C"),
    "bed_c": _Limit(15.0, 200.0, "°C"),
    "glass_c": _Limit(-80.0, 260.0, "°C"),
    "drying_c": _Limit(35.0, 160.0, "°C"),
    "drying_hours": _Limit(1.0, 48.0, "h"),
    "density_g_cm3": _Limit(0.8, 4.0, "g/cm³"),
    "expansion_um_m_k": _Limit(5.0, 300.0, "µm/(m·K)"),
    "shrinkage_pct": _Limit(0.0, 5.0, "%"),
    "water_pct": _Limit(0.0, 12.0, "%"),
    "fan_pct": _Limit(0.0, 100.0, "%"),
    "exposure_s": _Limit(0.2, 60.0, "s"),
}
ODDS_LIMIT = _Limit(0.01, 20.0, "odds ratio")


def check_depth(knowledge: Knowledge) -> tuple[Problem, ...]:
    """Return where the knowledge is too thin to tell faults apart, or out of proportion.

    Each fault needs `LEAST_SIGNS` findings with links of `SIGN_LINK` or more, and a check that
    settles a finding whose links differ by `TELLING_DIFFERENCE` between the fault and the one
    most like it. No two findings may mean the same, every danger needs a finding or a phrase
    that raises it, and numbers must lie where they make sense.

    Parameters
    ----------
    knowledge : Knowledge

    Returns
    -------
    tuple of Problem
        With file, key, value, limit and unit.
    """
    return tuple(
        problem
        for part in (_few_signs, _not_told_apart, _same_findings, _silent_dangers, _strange_numbers)
        for problem in part(knowledge)
    )


def nearest_faults(knowledge: Knowledge, count: int = NEIGHBOURS) -> dict[str, tuple[str, ...]]:
    """Return for each fault those whose links point most nearly the same way, nearest first.

    Likeness is the cosine between the rows of the link table; only faults that can occur in the
    same process and share a finding are compared.

    Parameters
    ----------
    knowledge : Knowledge
    count : int, at least 1
        How many to name at most.
    """
    network = knowledge.network
    likeness = _cosines(network.link)
    np.fill_diagonal(likeness, -1.0)
    together = np.zeros(likeness.shape, dtype=bool)
    for process in PROCESSES:
        together |= np.outer(network.occurs[process], network.occurs[process])
    likeness[~together] = -1.0
    best = np.argsort(-likeness, axis=1, kind="stable")[:, :count]
    return {
        name: tuple(network.fault_ids[other] for other in best[at] if likeness[at, other] > 0.0)
        for at, name in enumerate(network.fault_ids)
    }


def _few_signs(knowledge: Knowledge) -> Iterator[Problem]:
    network = knowledge.network
    for at, fault in enumerate(network.fault_ids):
        count = int((network.link[at] >= SIGN_LINK).sum())
        if count < LEAST_SIGNS:
            message = (
                f"{count} findings have a link of {SIGN_LINK:g} or more; "
                f"it takes {LEAST_SIGNS} to find the fault"
            )
            yield _problem(knowledge, f"fault {fault}", "", message)


def _not_told_apart(knowledge: Knowledge) -> Iterator[Problem]:
    for fault, others in nearest_faults(knowledge).items():
        for other in others:
            if not telling_checks(knowledge, fault, other):
                message = (
                    f"no check tells it from '{other}', which is much like it: none settles a "
                    f"finding whose links differ by {TELLING_DIFFERENCE:g} or more"
                )
                yield _problem(knowledge, f"fault {fault}", "", message)


def telling_checks(knowledge: Knowledge, fault: str, other: str) -> tuple[str, ...]:
    """Return the checks that settle a finding much likelier with one fault than the other."""
    network = knowledge.network
    apart = np.abs(network.link[network.fault_at[fault]] - network.link[network.fault_at[other]])
    process = knowledge.faults[fault].process
    wanted = None if process == ANY_PROCESS else process
    return tuple(
        check.id
        for check in knowledge.actions.values()
        if check.kind == "check"
        and applies_to(check.process, wanted)
        and any(apart[network.finding_at[name]] >= TELLING_DIFFERENCE for name in check.settles)
    )


def _same_findings(knowledge: Knowledge) -> Iterator[Problem]:
    network = knowledge.network
    columns = _cosines(network.link.T)
    causes = (network.link > 0.0).sum(axis=0)
    words = {name: _words(entry.name) for name, entry in knowledge.findings.items()}
    for one, two in combinations(knowledge.findings.values(), 2):
        if ANY_PROCESS not in (one.process, two.process) and one.process != two.process:
            continue
        first, second = network.finding_at[one.id], network.finding_at[two.id]
        shared = _share(words[one.id], words[two.id])
        same_faults = columns[first, second] >= SAME_COLUMN and causes[first] > 1
        if (
            _words(one.question) == _words(two.question)
            or shared >= SAME_WORDS
            or (same_faults and shared >= LIKE_WORDS)
        ):
            yield _problem(knowledge, f"finding {two.id}", "", f"means the same as '{one.id}'")


def _silent_dangers(knowledge: Knowledge) -> Iterator[Problem]:
    raised = {finding.danger for finding in knowledge.findings.values()}
    raised |= set(knowledge.phrases.get("danger", ()))
    for name in knowledge.dangers:
        if name not in raised:
            yield _problem(knowledge, f"danger {name}", "", "no finding and no phrase raises it")


def _strange_numbers(knowledge: Knowledge) -> Iterator[Problem]:
    yield from _strange_priors(knowledge)
    for risk in knowledge.risks.values():
        for fault, odds in risk.odds.items():
            key = f"odds {fault}"
            yield from _outside(knowledge, f"risk {risk.id}", key, (odds,), ODDS_LIMIT)
            if odds == 1.0:
                yield _problem(knowledge, f"risk {risk.id}", key, "an odds ratio of 1 says nothing")
    for kind, table, limits in (
        ("finding", knowledge.findings, FINDING_LIMITS),
        ("action", knowledge.actions, ACTION_LIMITS),
        ("material", knowledge.materials, MATERIAL_LIMITS),
    ):
        for name, entry in table.items():
            for key, limit in limits.items():
                yield from _outside(
                    knowledge, f"{kind} {name}", key, _values(getattr(entry, key)), limit
                )
    yield from _strange_materials(knowledge)


def _strange_priors(knowledge: Knowledge) -> Iterator[Problem]:
    low, high = FAULTS_AT_WORK
    network = knowledge.network
    for process in PROCESSES:
        occurring = network.prior[network.occurs[process]]
        if occurring.size and not low <= occurring.sum() <= high:
            message = (
                f"the priors of {process} add up to {occurring.sum():.2f} faults in a failed "
                f"print; {low:g} to {high:g} make sense"
            )
            yield Problem("", "faults", message)


def _strange_materials(knowledge: Knowledge) -> Iterator[Problem]:
    for code, material in knowledge.materials.items():
        label = f"material {code}"
        if material.nozzle_c and material.bed_c and material.bed_c[1] >= material.nozzle_c[0]:
            message = f"the plate, {material.bed_c[1]:g} °C, would be hotter than the nozzle"
            yield _problem(knowledge, label, "bed_c", message)
        for key in material.sources:
            if key not in MATERIAL_LIMITS:
                message = f"unknown key{suggest(key, MATERIAL_LIMITS)}"
                yield _problem(knowledge, label, f"sources {key}", message)
            elif not _values(getattr(material, key)):
                message = "there is no such number of this material to give a source for"
                yield _problem(knowledge, label, f"sources {key}", message)


def _outside(
    knowledge: Entries, label: str, key: str, values: Iterable[float], limit: _Limit
) -> Iterator[Problem]:
    for value in values:
        if not limit.low <= value <= limit.high:
            message = f"{value:g} is outside {limit.low:g} to {limit.high:g} {limit.unit}"
            yield _problem(knowledge, label, key, message)


def _values(value: float | tuple[float, ...] | None) -> tuple[float, ...]:
    """Return the numbers of a value that may be one, a range, or not given."""
    if value is None:
        return ()
    return value if isinstance(value, tuple) else (value,)


def _problem(knowledge: Entries, label: str, key: str, message: str) -> Problem:
    where = f"{label}: {key}" if key else label
    return Problem(knowledge.files.get(label, ""), where, message)


def _cosines(table: Floats) -> Floats:
    """Return the cosine between each pair of rows, 0 where a row is empty."""
    length = np.linalg.norm(table, axis=1)
    unit = table / np.where(length > 0.0, length, 1.0)[:, None]
    cosines: Floats = unit @ unit.T
    return cosines


def _words(text: str) -> frozenset[str]:
    """Return the words of a text that carry meaning, without their endings."""
    found = re.findall(r"[a-z0-9]+", _SMALL_WORDS.sub(" ", text.casefold()))
    return frozenset(re.sub(r"(ing|ed|es|s)$", "", word) or word for word in found)


def _share(one: frozenset[str], two: frozenset[str]) -> float:
    """Return the share of words two texts have in common."""
    return len(one & two) / len(one | two) if one | two else 1.0
