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

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from helpdesk.choosing.errors import ChoosingInputError, SolverError
from helpdesk.choosing.polishing import polish
from helpdesk.choosing.program import SLACK, Program, whole_bound
from helpdesk.choosing.values import FAMILY, Best, Chosen, Margin, Option, Rules
from helpdesk.choosing.worth import NO_REWARD, keeps_rules, sum_worth

LEAST_SCREENED = 40  # options; fewer are solved as they are
MOST_POLISHED = 60  # options, the likeliest first, among which a good set is looked for


@dataclass(frozen=True)
class Layout:
    """Where the options stand in a programme, and where the firsts of each value."""

    options: Mapping[int, int]
    firsts: Mapping[tuple[str, str], int]


def choose(options: Sequence[Option], rules: Rules) -> Chosen | None:
    """Return the best set with what each member displaced, or None when nothing fits."""
    best = find_best(options, rules)
    if best is None:
        return None
    margins = find_margins(options, rules, best)
    if any(margin.worth == 0 for margin in margins):
        first = _find_lowest_numbers(options, rules, best)
        if first.chosen != best.chosen:
            best, margins = first, find_margins(options, rules, first)
    return Chosen(best=best, margins=margins)


def find_best(options: Sequence[Option], rules: Rules) -> Best | None:
    """Return one best set, proven, or None when nothing fits; ties are not looked at."""
    check_input(options, rules)
    usable = _screen(_usable(options, rules), rules)
    if not usable:
        return None
    program, layout = build(usable, rules)
    add_rules(program, layout, usable, rules)
    solution = program.maximise()
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


def find_margins(options: Sequence[Option], rules: Rules, best: Best) -> tuple[Margin, ...]:
    """Return, for each member, what comes in without it and by how much the total falls."""
    found = []
    for number in best.chosen:
        without = replace(rules, must=rules.must - {number}, never=rules.never | {number})
        other = find_best(options, without)
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


def _screen(usable: list[Option], rules: Rules) -> list[Option]:
    """Return the options without those that no best set can hold.

    The optimum over fractions bounds what a set with an option is worth; where that is less than
    some set found by polishing the rounded fractions, no best set holds the option. Only options
    that would make a set strictly worse go, so ties stay.
    """
    if not usable or len(usable) < LEAST_SCREENED:
        return usable
    program, layout = build(usable, rules)
    add_rules(program, layout, usable, rules)
    relaxed = program.relax()
    if relaxed is None:
        return []
    places = layout.options
    ranked = sorted(
        usable, key=lambda o: (-relaxed.values[places[o.id]], -relaxed.reduced[places[o.id]], o.id)
    )
    found = polish(ranked[:MOST_POLISHED], rules)
    if not keeps_rules(found, rules):
        return usable
    floor = sum_worth(found, rules) - 0.5
    held = {option.id for option in found}
    return [
        option
        for option in usable
        if option.id in held
        or relaxed.values[places[option.id]] > SLACK
        or relaxed.worth + relaxed.reduced[places[option.id]] >= floor
    ]


def _find_lowest_numbers(options: Sequence[Option], rules: Rules, best: Best) -> Best:
    """Return the set worth as much as the best whose numbers, in order, come first."""
    by_number = {option.id: option for option in options}
    settled: list[int] = []
    while not settled or sum_worth((by_number[n] for n in settled), rules) < best.worth:
        settled.append(_find_next_number(options, rules, best.worth, settled))
    members = [by_number[number] for number in settled]
    if not keeps_rules(members, rules):
        raise SolverError("The lowest numbers do not keep to the rules.")
    return replace(best, chosen=tuple(settled), seconds=sum(option.seconds for option in members))


def _find_next_number(
    options: Sequence[Option], rules: Rules, worth: int, settled: Collection[int]
) -> int:
    """Return the lowest number with which a best set goes on after those settled."""
    usable = _usable(options, rules)
    program, layout = build(usable, rules)
    add_rules(program, layout, usable, rules)
    program.add_row([(place, float(c)) for place, c in program.costs().items()], least=worth)
    last = max(settled, default=-1)
    goes_on: dict[int, int] = {}
    for option in usable:
        place = layout.options[option.id]
        if option.id in settled:
            program.fix(place, 1)
        elif option.id <= last:
            program.fix(place, 0)
        else:
            goes_on[option.id] = program.add_variable()
            program.add_row([(place, 1.0), (goes_on[option.id], -1.0)], least=0)
    program.add_row([(place, 1.0) for place in goes_on.values()], least=1, most=1)
    program.set_costs({place: -rank for rank, place in enumerate(goes_on.values())})
    solution = program.maximise()
    if solution is None:
        raise SolverError("A best set could not be found again.")
    return next(number for number, place in goes_on.items() if solution.values[place])
