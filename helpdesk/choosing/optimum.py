"""The best set of cases for the minutes there are: an exact mixed-integer optimum.

A set is worth the sum of what its members are worth, plus a reward for the first and a smaller one
for the second case of every family, process and kind of machine. It must fit the seconds, hold at
most so many cases of one person and at least so many families, hold every must-have, none of the
never, nothing that may not be shown, and at least one case.

Ties: of sets that are worth the same, the one whose case numbers, put in order, come first: the
lowest number decides, then the next. Since every option is worth something, no set equals a larger
one, so the best set is the only one exactly when leaving out any one member costs something. That
is what the margins tell, and only where one of them is 0 the lowest numbers are searched for.
"""

import time
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from helpdesk.choosing.errors import ChoosingInputError, OutOfTimeError, SolverError
from helpdesk.choosing.polishing import polish
from helpdesk.choosing.program import SLACK, Program, whole_bound
from helpdesk.choosing.values import FAMILY, Best, Chosen, Margin, Option, Rules
from helpdesk.choosing.worth import NO_REWARD, keeps_rules, sum_worth

HALF = 0.5  # worths are whole: less than half apart is equal
LEAST_SCREENED = 40  # options; fewer are solved as they are
MOST_POLISHED = 60  # options, the likeliest first, among which a good set is looked for


@dataclass(frozen=True)
class Layout:
    """Where the options stand in a programme, and where the firsts of each value."""

    options: Mapping[int, int]
    firsts: Mapping[tuple[str, str], int]


def choose(
    options: Sequence[Option], rules: Rules, *, enough_s: float | None = None
) -> Chosen | None:
    """Return the best set with what each member displaced, or None when nothing fits.

    The best set is proven however long that takes; what is not known of its members and of sets
    worth the same after `enough_s` seconds is left open.
    """
    until_s = None if enough_s is None else time.monotonic() + enough_s
    best = find_best(options, rules)
    if best is None:
        return None
    margins = find_margins(options, rules, best, until_s=until_s)
    is_settled = all(margin.is_known for margin in margins)
    if any(margin.worth == 0 for margin in margins):
        try:
            first = find_lowest_numbers(options, rules, best, until_s=until_s)
        except OutOfTimeError:
            return Chosen(best=best, margins=margins, is_settled=False)
        is_settled = True
        if first.chosen != best.chosen:
            best, margins = first, find_margins(options, rules, first, until_s=until_s)
    return Chosen(best=best, margins=margins, is_settled=is_settled)


def find_best(
    options: Sequence[Option],
    rules: Rules,
    *,
    at_least: int = 0,
    until_s: float | None = None,
) -> Best | None:
    """Return one best set, proven, or None when nothing fits; ties are not looked at.

    A set worth less than `at_least` may be taken for nothing. Raises OutOfTimeError without a
    proof at `until_s` on the monotonic clock.
    """
    check_input(options, rules)
    usable = screen(_usable(options, rules), rules, at_least=at_least)
    if not usable:
        return None
    program, layout = build(usable, rules)
    add_rules(program, layout, usable, rules)
    solution = program.maximise(until_s=until_s)
    if solution is None:
        return None
    members = [option for option in usable if solution.values[layout.options[option.id]]]
    worth = sum_worth(members, rules)
    bound = whole_bound(solution.bound)
    if not keeps_rules(members, rules) or bound > worth:
        raise SolverError(f"A set worth {worth} with the bound {bound} is no proof.")
    return Best(
        chosen=tuple(option.id for option in members),
        seconds=sum(option.seconds for option in members),
        worth=worth,
        bound=worth,
    )


def find_margins(
    options: Sequence[Option], rules: Rules, best: Best, *, until_s: float | None = None
) -> tuple[Margin, ...]:
    """Return, for each member, what comes in without it and by how much the total falls.

    Each may take its share of the time left, so that a hard one does not keep the others back.
    """
    found = []
    for place, number in enumerate(best.chosen):
        without = replace(rules, must=rules.must - {number}, never=rules.never | {number})
        try:
            share_s = _share(until_s, len(best.chosen) - place)
            other = find_best(options, without, until_s=share_s)
        except OutOfTimeError:
            found.append(Margin(id=number, worth=None, is_known=False))
            continue
        if other is None:
            found.append(Margin(id=number, worth=None))
            continue
        found.append(
            Margin(
                id=number,
                worth=best.worth - other.worth,
                comes_in=tuple(n for n in other.chosen if n not in best.chosen),
                goes_out=tuple(n for n in best.chosen if n not in (number, *other.chosen)),
            )
        )
    return tuple(found)


def _share(until_s: float | None, count: int) -> float | None:
    """Return when the first of so many has had its share of the time left."""
    if until_s is None:
        return None
    now_s = time.monotonic()
    return now_s + (until_s - now_s) / count


def check_input(options: Sequence[Option], rules: Rules) -> None:
    """Raise ChoosingInputError for options or rules that make no sense."""
    counts = Counter(option.id for option in options)
    twice = sorted(number for number, count in counts.items() if count > 1)
    if twice:
        raise ChoosingInputError(f"Case {twice[0]} is there twice.")
    for option in options:
        if option.seconds < 1 or option.worth < 1:
            raise ChoosingInputError(f"Case {option.id} needs a length and a worth of at least 1.")
    unknown = sorted(rules.must - counts.keys())
    if unknown:
        raise ChoosingInputError(f"Case {unknown[0]} must be in, but is not there to choose from.")
    if rules.most_per_person < 1 or rules.least_families < 0:
        raise ChoosingInputError("A person may have at least one case; families are not negative.")
    for name, reward in rules.rewards.items():
        if not 0 <= reward.second <= reward.first:
            raise ChoosingInputError(
                f"The second of a {name} may not be worth more than the first."
            )


def build(options: Sequence[Option], rules: Rules) -> tuple[Program, Layout]:
    """Return the programme without the rules that some can be relaxed, and where things stand.

    The rules it holds already are those of worth: options, firsts and seconds of each value.
    """
    program = Program()
    places = {option.id: program.add_variable(cost=option.worth) for option in options}
    holders: dict[tuple[str, str], list[int]] = defaultdict(list)
    for option in options:
        for trait in sorted(option.traits):
            holders[trait].append(places[option.id])
    firsts = {}
    for trait in sorted(holders):
        reward = rules.rewards.get(trait[0], NO_REWARD)
        if not reward.first and trait[0] != FAMILY:
            continue
        first = program.add_variable(cost=reward.first)
        firsts[trait] = first
        terms = [(place, 1.0) for place in holders[trait]] + [(first, -1.0)]
        if reward.second:
            terms.append((program.add_variable(cost=reward.second), -1.0))
        program.add_row(terms, least=0)
    return program, Layout(options=places, firsts=firsts)


def add_rules(program: Program, layout: Layout, options: Sequence[Option], rules: Rules) -> None:
    """Add the rules: seconds, people, families, must, never, at least one."""
    places = layout.options
    for option in options:
        if option.is_barred or option.id in rules.never:
            program.fix(places[option.id], 0)
    for number in sorted(rules.must):
        program.add_row([(places[number], 1.0)], least=1)
    program.add_row(
        [(places[option.id], float(option.seconds)) for option in options], most=rules.seconds
    )
    for terms in people_rows(layout, options):
        if len(terms) > rules.most_per_person:
            program.add_row(terms, most=rules.most_per_person)
    families = [(first, 1.0) for trait, first in layout.firsts.items() if trait[0] == FAMILY]
    program.add_row(families, least=rules.least_families)
    program.add_row([(place, 1.0) for place in places.values()], least=1)
    if rules.one_of:
        wanted = [(place, 1.0) for number, place in places.items() if number in rules.one_of]
        program.add_row(wanted, least=1)


def people_rows(layout: Layout, options: Sequence[Option]) -> list[list[tuple[int, float]]]:
    """Return, for each person with more than one option, where these stand."""
    found: dict[int, list[tuple[int, float]]] = defaultdict(list)
    for option in options:
        for person in option.people:
            found[person].append((layout.options[option.id], 1.0))
    return [terms for _, terms in sorted(found.items()) if len(terms) > 1]


def _usable(options: Sequence[Option], rules: Rules) -> list[Option]:
    """Return the options that could be in a set, by number; must-haves stay whatever they are."""
    return sorted(
        (
            option
            for option in options
            if option.id in rules.must
            or not (option.is_barred or option.id in rules.never or option.seconds > rules.seconds)
        ),
        key=lambda option: option.id,
    )


def screen(usable: list[Option], rules: Rules, *, at_least: int = 0) -> list[Option]:
    """Return the options without those that no best set can hold; none when none is good enough.

    The optimum over fractions bounds what a set with an option is worth; where that is less than
    some set found by polishing the rounded fractions, or than `at_least`, no set that good holds
    the option. Only options that would make a set strictly worse go, so ties stay.
    """
    if not usable or (len(usable) < LEAST_SCREENED and not at_least):
        return usable
    program, layout = build(usable, rules)
    add_rules(program, layout, usable, rules)
    relaxed = program.relax()
    if relaxed is None or relaxed.worth < at_least - HALF:
        return []
    places = layout.options
    ranked = sorted(
        usable, key=lambda o: (-relaxed.values[places[o.id]], -relaxed.reduced[places[o.id]], o.id)
    )
    # Where it is known how good the best is, nothing has to be found to be held against.
    found = [] if at_least else polish(ranked[:MOST_POLISHED], rules)
    floor = sum_worth(found, rules) if keeps_rules(found, rules) else at_least
    held = {option.id for option in found} | rules.must
    return [
        option
        for option in usable
        if option.id in held
        or relaxed.values[places[option.id]] > SLACK
        or relaxed.worth + relaxed.reduced[places[option.id]] >= floor - HALF
    ]


def find_lowest_numbers(
    options: Sequence[Option], rules: Rules, best: Best, *, until_s: float | None = None
) -> Best:
    """Return the set worth as much as the best whose numbers, in order, come first.

    Member by member: is there a set as good, with those settled so far, that holds any of the
    numbers before the next one of the best set known? Where there is, that set is the best known;
    where there is none, those numbers are out for good and the next member is settled.
    """
    ties = screen(_usable(options, rules), rules, at_least=best.worth)
    by_number = {option.id: option for option in ties}
    settled: set[int] = set()
    out = set(rules.never)
    while not settled or sum_worth((by_number[n] for n in settled), rules) < best.worth:
        member = min(set(best.chosen) - settled)
        before = {n for n in by_number if n < member} - settled - out
        while before:
            tried = replace(
                rules,
                must=rules.must | settled,
                never=frozenset(out),
                one_of=frozenset(before),
            )
            other = find_best(ties, tried, at_least=best.worth, until_s=until_s)
            if other is None or other.worth < best.worth:
                out |= before
                break
            best = other
            member = min(set(best.chosen) - settled)
            before = {n for n in before if n < member}
        settled.add(member)
    return best
