"""How many different ways of saying a thing the phrases know, for what many people speak of."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from triage.errors import Problem
from triage.knowledge._model import Knowledge, Phrases

# Ways a common thing has to be known in [judgement: desk, 2026-11-25]
LEAST_WAYS: Final = 25
# Failed prints of a process in which a remedy would help, a sign shows, or a circumstance adds a
# fault, from which on many people speak of it [judgement: desk, 2026-11-25]
COMMON_REMEDY: Final = 0.0075
COMMON_FINDING: Final = 0.02
COMMON_RISK: Final = 0.05
# Letters two words share when one is a form of the other ("raised", "raising")
SAME_START: Final = 4
_TITLES: Final[Mapping[str, str]] = {
    "tried": "remedies",
    "risk": "circumstances",
    "finding": "findings",
}


def count_ways(patterns: Sequence[str]) -> int:
    """Return how many different ways of saying a thing the patterns hold.

    A written pattern is one way. Of each place in it, every further alternative is one more if it
    is a different word: neither a form of one in the same place nor counted already for the same
    thing, so that a list of words used in ten patterns counts once. A place that may be left empty
    adds nothing, as the pattern is found without it. Words are forms of each other
    when they share their first `SAME_START` letters.
    """
    counted: set[str] = set()
    for pattern in dict.fromkeys(patterns):
        for place in pattern.split():
            if place.endswith("?"):
                continue
            first, *others = dict.fromkeys(word[:SAME_START] for word in _alternatives(place))
            counted.update(word for word in others if word != first)
    return len(set(patterns)) + len(counted)


def _alternatives(place: str) -> list[str]:
    """Return the words of one place, without the signs of the pattern language."""
    return [word.rstrip("*").replace("-", "") for word in place.split("/")]


def common_entries(knowledge: Knowledge) -> dict[str, tuple[str, ...]]:
    """Return the ids of remedies ("tried"), circumstances ("risk") and findings met often.

    How often follows from the numbers: the sum over the faults of prior times cure, link or
    change of the odds. Measured findings, and circumstances that hold for a material or machine
    without being told, are left out.
    """
    prior = {name: fault.prior for name, fault in knowledge.faults.items()}
    network = knowledge.network
    shows = dict(zip(network.finding_ids, network.prior @ network.link, strict=True))
    return {
        "tried": tuple(
            action.id
            for action in knowledge.actions.values()
            if action.kind == "remedy"
            and sum(prior[fault] * cure for fault, cure in action.cures.items()) >= COMMON_REMEDY
        ),
        "risk": tuple(
            risk.id
            for risk in knowledge.risks.values()
            if not (risk.materials or risk.machines)
            and sum(prior[fault] * (odds - 1.0) for fault, odds in risk.odds.items()) >= COMMON_RISK
        ),
        "finding": tuple(
            finding.id
            for finding in knowledge.findings.values()
            if finding.kind != "measure" and shows[finding.id] >= COMMON_FINDING
        ),
    }


def count_thin(knowledge: Knowledge) -> dict[str, int]:
    """Return how many common things of each kind are known in fewer than `LEAST_WAYS` ways."""
    return {
        f"of {len(names)} common {_TITLES[kind]}": len(_thin(knowledge, kind, names))
        for kind, names in common_entries(knowledge).items()
    }


def check_ways(knowledge: Knowledge) -> tuple[Problem, ...]:
    """Return the common things that are known in fewer than `LEAST_WAYS` ways.

    A kind without any phrases is passed over: knowledge can be used without reading.
    """
    return tuple(
        problem
        for kind, names in common_entries(knowledge).items()
        if knowledge.phrases.get(kind)
        for problem in _few_ways(knowledge, kind, names)
    )


def _few_ways(knowledge: Knowledge, kind: str, names: Sequence[str]) -> Iterator[Problem]:
    for name, ways in _thin(knowledge, kind, names).items():
        label = f"phrases {kind}.{name}"
        message = f"{ways} ways of saying it are known; it takes {LEAST_WAYS}"
        yield Problem(knowledge.files.get(label, ""), label, message)


def _thin(knowledge: Knowledge, kind: str, names: Sequence[str]) -> dict[str, int]:
    """Return the ways of those things that have too few."""
    book = knowledge.phrases.get(kind, {})
    said = {name: book.get(name, Phrases()) for name in names}
    ways = {name: count_ways(phrases.present + phrases.named) for name, phrases in said.items()}
    return {name: count for name, count in ways.items() if count < LEAST_WAYS}
