"""A good set quickly: what the exact search may start from, and never its answer."""

from collections import Counter
from collections.abc import Sequence

from helpdesk.choosing.values import Option, Rules
from helpdesk.choosing.worth import sum_worth


def polish(ranked: Sequence[Option], rules: Rules) -> list[Option]:
    """Return a set that fits seconds, people, must and never, filled in order, then improved.

    It may hold too few families; whoever uses it looks. Must-haves among the options come first.
    """
    usable = [o for o in ranked if not o.is_barred and o.id not in rules.never]
    members: list[Option] = []
    for option in sorted(usable, key=lambda o: o.id not in rules.must):
        if _fits([*members, option], rules):
            members.append(option)
    while better := _swap_once(members, usable, rules):
        members = better
    return members


def _swap_once(
    members: list[Option], usable: Sequence[Option], rules: Rules
) -> list[Option] | None:
    """Return the first better set with one member swapped for another and the rest filled up."""
    worth = sum_worth(members, rules)
    held = {option.id for option in members}
    outside = [option for option in usable if option.id not in held]
    for out in members:
        if out.id in rules.must:
            continue
        rest = [option for option in members if option is not out]
        for coming in outside:
            tried = [*rest, coming]
            if not _fits(tried, rules):
                continue
            tried = _fill(tried, outside, rules)
            if sum_worth(tried, rules) > worth:
                return tried
    return None


def _fill(members: list[Option], outside: Sequence[Option], rules: Rules) -> list[Option]:
    """Return the set with everything added that still fits, in order."""
    left = rules.seconds - sum(option.seconds for option in members)
    for option in outside:
        if option.seconds <= left and option not in members and _fits([*members, option], rules):
            members = [*members, option]
            left -= option.seconds
    return members


def _fits(members: Sequence[Option], rules: Rules) -> bool:
    """Return True when a set keeps to the seconds and to what a person may have."""
    if sum(option.seconds for option in members) > rules.seconds:
        return False
    people = Counter(person for option in members for person in option.people)
    return all(count <= rules.most_per_person for count in people.values())
