"""What to relax when nothing fits: the cheapest list of rules, each with by how much.

Every rule that people made may give way at a price; what a person agreed to and what is answered
may not. The prices are judgements, in seconds of a producer's regret: they say which of two ways
out is named, never whether there is one.
"""

from collections import Counter
from collections.abc import Sequence

from helpdesk.choosing.errors import SolverError
from helpdesk.choosing.optimum import Layout, build, check_input, people_rows
from helpdesk.choosing.program import Program
from helpdesk.choosing.values import FAMILY, Option, Relaxation, Rules

A_RULE = 300  # for each rule touched at all [judgement: desk, 2026-11]
A_SECOND = 1  # over the slot, each [judgement: desk, 2026-11]
A_FAMILY = 120  # fewer, each [judgement: desk, 2026-11]
A_CASE_OF_ONE = 180  # more of one person, each [judgement: desk, 2026-11]
A_MUST = 600  # must-have left out, each [judgement: desk, 2026-11]
A_NEVER = 900  # never let in after all, each [judgement: desk, 2026-11]


def find_relaxation(options: Sequence[Option], rules: Rules) -> Relaxation | None:
    """Return the cheapest relaxation, or None when no rule stands in the way of anything.

    None means that there is no option at all that may be shown.
    """
    check_input(options, rules)
    if all(option.is_barred for option in options):
        return None
    ordered = sorted(options, key=lambda option: option.id)
    program, layout = build(ordered, rules)
    costs = _add_elastic_rules(program, layout, ordered, rules)
    program.set_costs({place: -cost for place, cost in costs.items()})
    solution = program.maximise()
    if solution is None:
        raise SolverError("Nothing fits even with every rule relaxed.")
    chosen = [option for option in ordered if solution.values[layout.options[option.id]]]
    found = measure(chosen, rules)
    if found.cost > round(-solution.bound):
        raise SolverError(f"Relaxing costs {found.cost}, not {-solution.bound:.1f}.")
    return found


def measure(chosen: Sequence[Option], rules: Rules) -> Relaxation:
    """Return by how much a set breaks each rule, exactly, and what that costs."""
    numbers = {option.id for option in chosen}
    people = Counter(person for option in chosen for person in option.people)
    families = {trait for option in chosen for trait in option.traits if trait[0] == FAMILY}
    over_s = max(0, sum(option.seconds for option in chosen) - rules.seconds)
    fewer = max(0, rules.least_families - len(families))
    more = max(0, max(people.values(), default=0) - rules.most_per_person)
    dropped = tuple(sorted(rules.must - numbers))
    allowed = tuple(sorted(rules.never & numbers))
    touched = sum(1 for amount in (over_s, fewer, more) if amount)
    return Relaxation(
        over_s=over_s,
        fewer_families=fewer,
        more_per_person=more,
        drop_must=dropped,
        allow_never=allowed,
        chosen=tuple(sorted(numbers)),
        cost=A_RULE * touched
        + A_SECOND * over_s
        + A_FAMILY * fewer
        + A_CASE_OF_ONE * more
        + (A_RULE + A_MUST) * len(dropped)
        + (A_RULE + A_NEVER) * len(allowed),
    )


def _add_elastic_rules(
    program: Program, layout: Layout, options: Sequence[Option], rules: Rules
) -> dict[int, int]:
    """Add the rules with a way out of each, and return what each way out costs by its place."""
    places = layout.options
    costs: dict[int, int] = {}
    for option in options:
        if option.is_barred:
            program.fix(places[option.id], 0)
        elif option.id in rules.never:
            costs[places[option.id]] = A_RULE + A_NEVER
    program.add_row([(place, 1.0) for place in places.values()], least=1)
    for number in sorted(rules.must):
        dropped = program.add_variable()
        costs[dropped] = A_RULE + A_MUST
        program.add_row([(places[number], 1.0), (dropped, 1.0)], least=1)
    over = _add_amount(program, costs, price=A_SECOND, most=_longest_s(options, rules))
    lengths = [(places[option.id], float(option.seconds)) for option in options]
    program.add_row([*lengths, (over, -1.0)], most=rules.seconds)
    fewer = _add_amount(program, costs, price=A_FAMILY, most=rules.least_families)
    families = [(first, 1.0) for trait, first in layout.firsts.items() if trait[0] == FAMILY]
    program.add_row([*families, (fewer, 1.0)], least=rules.least_families)
    rows = people_rows(layout, options)
    most = max((len(terms) for terms in rows), default=0)
    more = _add_amount(program, costs, price=A_CASE_OF_ONE, most=most)
    for terms in rows:
        program.add_row([*terms, (more, -1.0)], most=rules.most_per_person)
    return costs


def _add_amount(program: Program, costs: dict[int, int], *, price: int, most: int) -> int:
    """Add by how much a rule gives way, with the price of touching it at all."""
    amount, is_touched = program.add_variable(most=most), program.add_variable()
    costs[amount], costs[is_touched] = price, A_RULE
    program.add_row([(amount, 1.0), (is_touched, -float(most))], most=0)
    return amount


def _longest_s(options: Sequence[Option], rules: Rules) -> int:
    """Return more seconds than the cheapest way out can take.

    It never holds more than the must-haves, one case for each family, and one at all.
    """
    lengths = sorted((option.seconds for option in options), reverse=True)
    must_s = sum(option.seconds for option in options if option.id in rules.must)
    return must_s + sum(lengths[: rules.least_families + 1])
