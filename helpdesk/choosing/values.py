"""What the choosing works on, as plain frozen values: options, rules and what came of them.

Worth is counted in whole hundredths of a point, so that sums are exact and two sets are either
equally good or not; seconds are whole.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

POINT = 100  # hundredths
FAMILY = "family"  # the dimension of which a show wants several
PROVEN = "proven optimal"


@dataclass(frozen=True)
class Option:
    """A case that may be chosen: its length, its worth by itself, what it is, whose it is.

    `traits` are pairs of a dimension ("family", "process", "machine") and a value. An option that
    `is_barred` may not be shown at all: no rule that can be relaxed keeps it out.
    """

    id: int
    seconds: int
    worth: int
    traits: frozenset[tuple[str, str]] = frozenset()
    people: frozenset[int] = frozenset()
    is_barred: bool = False


@dataclass(frozen=True)
class Reward:
    """What the first case of a value is worth to the set, and the second; further ones nothing."""

    first: int
    second: int = 0


@dataclass(frozen=True)
class Rules:
    """What a set must keep to, and what variety is worth.

    `one_of` are options of which it must hold at least one, where any are named.
    """

    seconds: int
    rewards: Mapping[str, Reward] = field(default_factory=dict)
    most_per_person: int = 1
    least_families: int = 0
    must: frozenset[int] = frozenset()
    never: frozenset[int] = frozenset()
    one_of: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Margin:
    """What a chosen option displaced.

    Without it the best set loses `worth` (gains, when negative: only a must-have can), `comes_in`
    takes its place and `goes_out` leaves with it. `worth` is None when nothing fits without it,
    or when there was no time to find out: then it is not `is_known`.
    """

    id: int
    worth: int | None
    comes_in: tuple[int, ...] = ()
    goes_out: tuple[int, ...] = ()
    is_known: bool = True


@dataclass(frozen=True)
class Best:
    """The best set there is, with its proof: no set is worth more than `bound`."""

    chosen: tuple[int, ...]  # by number
    seconds: int
    worth: int
    bound: int
    status: str = PROVEN


@dataclass(frozen=True)
class Chosen:
    """The best set with what each member displaced.

    It `is_settled` when of all sets worth the same it is known to be the one that is taken.
    """

    best: Best
    margins: tuple[Margin, ...]
    is_settled: bool = True


@dataclass(frozen=True)
class Relaxation:
    """The cheapest set of rules to relax so that something fits, by how much each.

    `chosen` is one set that then fits; `cost` is what was minimised.
    """

    over_s: int
    fewer_families: int
    more_per_person: int
    drop_must: tuple[int, ...]
    allow_never: tuple[int, ...]
    chosen: tuple[int, ...]
    cost: int

    @property
    def count(self) -> int:
        """Return how many rules are relaxed."""
        amounts = (self.over_s, self.fewer_families, self.more_per_person)
        return sum(1 for a in amounts if a) + len(self.drop_must) + len(self.allow_never)
