"""What a set is worth and whether it keeps to the rules, exactly, in whole numbers."""

from collections import Counter
from collections.abc import Iterable

from helpdesk.choosing.values import FAMILY, Option, Reward, Rules

NO_REWARD = Reward(0, 0)


def sum_worth(options: Iterable[Option], rules: Rules) -> int:
    """Return what a set is worth, exactly."""
    members = list(options)
    total = sum(option.worth for option in members)
    counts = Counter(trait for option in members for trait in option.traits)
    for (dimension, _), count in counts.items():
        reward = rules.rewards.get(dimension, NO_REWARD)
        total += reward.first + (reward.second if count > 1 else 0)
    return total


def keeps_rules(options: Iterable[Option], rules: Rules) -> bool:
    """Return True when a set keeps to every rule, exactly."""
    members = list(options)
    numbers = {option.id for option in members}
    people = Counter(person for option in members for person in option.people)
    families = {trait for option in members for trait in option.traits if trait[0] == FAMILY}
    return (
        bool(members)
        and not any(option.is_barred for option in members)
        and sum(option.seconds for option in members) <= rules.seconds
        and all(count <= rules.most_per_person for count in people.values())
        and len(families) >= rules.least_families
        and numbers >= rules.must
        and not numbers & rules.never
        and (not rules.one_of or bool(numbers & rules.one_of))
    )
