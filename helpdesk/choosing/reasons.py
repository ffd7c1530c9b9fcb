"""Reasons to show a case: each a score from 0 to 1 with a sentence that says why.

Plain values in and out. Scales are judgements of the desk (2026-11); they stand in the constants.
"""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from helpdesk.choosing.models import Reason
from helpdesk.choosing.values import POINT

MANY_BITS = 6.0  # what is seen makes the fault 64 times likelier: as instructive as it gets
LARGE_PIXELS = 1_600_000  # a picture that fills a screen of 1600 by 1000
RESTED_DAYS = 365  # after a year few remember
LONG_WAIT_DAYS = 14
SHARES = {"family": 0.6, "process": 0.2, "machine": 0.2}
DESIGN = "design"
BOUGHT_BADLY = frozenset(
    {
        "filament-poor-batch",
        "filament-diameter-off",
        "filament-contaminated",
        "nozzle-defective-part",
    }
)


@dataclass(frozen=True)
class Picture:
    """A photo as far as it matters: pixels, and whether somebody described it."""

    pixels: int
    is_described: bool


@dataclass(frozen=True)
class Facts:
    """What is known of a case when reasons are weighed."""

    fault_name: str = ""
    faults: Sequence[str] = ()
    is_confirmed: bool = False
    traits: frozenset[tuple[str, str]] = frozenset()
    bits_seen: float | None = None  # None when no stored run explains the fault
    bits_all: float | None = None
    pictures: Sequence[Picture] = ()
    last_shown: datetime.date | None = None
    waited_days: float = 0.0
    is_answered: bool = False
    results: Sequence[str] = ()  # outcomes as told, oldest first
    is_surprise: bool = False
    mark: str | None = None  # why somebody marked it, "" without a reason, None when nobody did


@dataclass(frozen=True)
class History:
    """How many of the last episodes had something of each trait, and how many these were."""

    episodes: int = 0
    counts: Mapping[tuple[str, str], int] = field(default_factory=dict)


@dataclass(frozen=True)
class Weighed:
    """A reason with its score, what it is worth at most, and the sentence."""

    reason: str
    score: float
    points: int
    sentence: str

    @property
    def worth(self) -> int:
        """Return what it counts, in hundredths of a point."""
        return round(self.score * self.points * POINT)

    @property
    def given(self) -> float:
        """Return what it counts, in points."""
        return self.worth / POINT

    @property
    def label(self) -> str:
        """Return the name of the reason."""
        return Reason(self.reason).label


def weigh(
    facts: Facts, history: History, weights: Mapping[str, int], *, today: datetime.date
) -> tuple[Weighed, ...]:
    """Return the reasons to show a case, the weightiest first."""
    found = {
        Reason.INSTRUCTIVE: _instructive(facts),
        Reason.FRESH: _fresh(facts, history),
        Reason.PICTURES: _pictures(facts),
        Reason.RESTED: _rested(facts, today),
        Reason.WAITING: _waiting(facts),
        Reason.STORY: _story(facts),
        Reason.MARKED: _marked(facts),
    }
    reasons = [
        Weighed(reason=reason, score=round(score, 4), points=weights[reason], sentence=sentence)
        for reason, (score, sentence) in found.items()
    ]
    return tuple(sorted(reasons, key=lambda reason: -reason.worth))


def _instructive(facts: Facts) -> tuple[float, str]:
    """Score how far what can be seen moved belief towards the fault."""
    if facts.bits_seen is None:
        return 0.0, "No stored run of the desk explains its fault."
    seen = max(0.0, facts.bits_seen)
    whole = "" if facts.bits_all is None else f", of {facts.bits_all:.1f} bits altogether"
    if seen == 0:
        return 0.0, f"Nothing that can be seen speaks for “{facts.fault_name}”."
    return (
        min(1.0, seen / MANY_BITS),
        f"What can be seen moves belief by {seen:.1f} bits towards “{facts.fault_name}”{whole}.",
    )


def _fresh(facts: Facts, history: History) -> tuple[float, str]:
    """Score how little the last episodes had of its family, process and machine."""
    if not history.episodes:
        return 1.0, "No earlier episode has shown anything like it."
    score = 1.0
    for dimension, share in SHARES.items():
        own = [history.counts.get(trait, 0) for trait in facts.traits if trait[0] == dimension]
        score -= share * max(own, default=0) / history.episodes
    families = sorted(
        (history.counts.get(trait, 0), trait[1]) for trait in facts.traits if trait[0] == "family"
    )
    if not families:
        return score, "Its family of faults is not known."
    count, family = families[-1]
    shows = f"the last {history.episodes} episodes" if history.episodes > 1 else "the last episode"
    if not count:
        return score, f"No fault of the family “{family}” was in {shows}."
    return score, f"Faults of the family “{family}” were in {count} of {shows}."


def _pictures(facts: Facts) -> tuple[float, str]:
    """Score the size of the best photo, descriptions, and whether there is a second look."""
    if not facts.pictures:
        return 0.0, "There is no photo."
    best = max(picture.pixels for picture in facts.pictures)
    described = sum(1 for picture in facts.pictures if picture.is_described)
    count = len(facts.pictures)
    score = 0.5 * min(1.0, best / LARGE_PIXELS) + 0.3 * described / count + 0.2 * (count > 1)
    noun = "photo" if count == 1 else "photos"
    words = "all described" if described == count else f"{described} described"
    if count == 1:
        words = "described" if described else "not described"
    return score, f"{count} {noun}, {words}; the largest has {best / 1e6:.1f} megapixels."


def _rested(facts: Facts, today: datetime.date) -> tuple[float, str]:
    """Score how long ago it was shown."""
    if facts.last_shown is None:
        return 1.0, "It was never shown."
    days = max(0, (today - facts.last_shown).days)
    noun = "day" if days == 1 else "days"
    return min(1.0, days / RESTED_DAYS), f"It was shown {days} {noun} ago."


def _waiting(facts: Facts) -> tuple[float, str]:
    """Score how long the person waits, or waited, for an answer."""
    days = max(0.0, facts.waited_days)
    span = f"{days:.0f} days" if round(days) != 1 else "1 day"
    words = (
        f"They waited {span} for the answer."
        if facts.is_answered
        else f"They have waited {span} so far."
    )
    return min(1.0, days / LONG_WAIT_DAYS), words


def _story(facts: Facts) -> tuple[float, str]:
    """Score what makes it more than a fault and its cure; each further turn adds a little."""
    turns: list[tuple[float, str]] = []
    if facts.results[-1:] == ["worked"] and set(facts.results[:-1]) - {"worked"}:
        turns.append((0.8, "it worked in the end, after it had not"))
    if ("family", DESIGN) in facts.traits:
        turns.append((0.7, "the fault lies in the model itself"))
    if BOUGHT_BADLY & set(facts.faults):
        turns.append((0.7, "something bought was not what it should be"))
    if facts.is_surprise:
        turns.append((0.6, "the fault was not the one the desk suspected first"))
    if len(facts.faults) > 1 and facts.is_confirmed:
        turns.append((0.5, "two faults met"))
    if not turns:
        return 0.0, "It is a fault and its cure, without a turn."
    turns.sort(key=lambda turn: -turn[0])
    score = min(1.0, turns[0][0] + 0.15 * (len(turns) - 1))
    words = "; ".join(sentence for _, sentence in turns)
    return score, f"{words[0].upper()}{words[1:]}."


def _marked(facts: Facts) -> tuple[float, str]:
    """Score whether somebody of the desk marked it for the show."""
    if facts.mark is None:
        return 0.0, "Nobody has marked it for the show."
    why = facts.mark.strip()
    return 1.0, f"Marked for the show: {why}" if why else "Somebody marked it for the show."
