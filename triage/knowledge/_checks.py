"""Checks that the entries fit each other and that nothing a case needs is missing."""

from collections.abc import Collection, Iterable, Iterator, Mapping

from triage.errors import Problem, suggest
from triage.knowledge._model import ANY_PROCESS, Entries, applies_to


def check_knowledge(knowledge: Entries) -> tuple[Problem, ...]:
    """Return everything that is wrong with the knowledge, nothing when all is well.

    Beside broken references this looks for what would leave a case without an answer: a fault
    with no findings or no remedy, a finding nobody can be asked about or that no fault
    explains, a check that settles nothing.

    Parameters
    ----------
    knowledge : Knowledge or Entries

    Returns
    -------
    tuple of Problem
        With file, key and the nearest valid name.
    """
    return (*check_references(knowledge), *_gaps(knowledge))


def check_references(entries: Entries) -> tuple[Problem, ...]:
    """Return every name in the entries that refers to nothing, and links across processes."""
    return tuple(_broken_references(entries))


def _broken_references(entries: Entries) -> Iterator[Problem]:
    for fault in entries.faults.values():
        label = f"fault {fault.id}"
        for key, codes in (
            ("never_materials", fault.never_materials),
            ("only_materials", fault.only_materials),
        ):
            yield from _unknown(entries, label, key, "material", codes, entries.materials)
        kinds = machine_names(entries)
        for key, names in (
            ("never_machines", fault.never_machines),
            ("only_machines", fault.only_machines),
        ):
            yield from _unknown(entries, label, key, "machine or trait", names, kinds)
    for finding in entries.findings.values():
        dangers = (finding.danger,) if finding.danger else ()
        label = f"finding {finding.id}"
        yield from _unknown(entries, label, "danger", "danger", dangers, entries.dangers)
    for risk in entries.risks.values():
        label = f"risk {risk.id}"
        yield from _unknown(entries, label, "odds", "fault", risk.odds, entries.faults)
        yield from _unknown(
            entries, label, "materials", "material", risk.materials, entries.materials
        )
        yield from _unknown(
            entries, label, "machines", "machine or trait", risk.machines, machine_names(entries)
        )
    for danger in entries.dangers.values():
        label = f"danger {danger.id}"
        cautions = (danger.caution,)
        yield from _unknown(entries, label, "caution", "caution", cautions, entries.cautions)
    yield from _broken_actions(entries)
    yield from _broken_links(entries)
    yield from _broken_phrases(entries)
    yield from _unknown_sources(entries)


def machine_names(entries: Entries) -> frozenset[str]:
    """Return the ids of the kinds of machine and the traits some of them have."""
    traits = {trait for machine in entries.machines.values() for trait in machine.traits}
    return frozenset({*entries.machines, *traits})


def _broken_actions(entries: Entries) -> Iterator[Problem]:
    for action in entries.actions.values():
        label = f"action {action.id}"
        for key, kind, names, valid in (
            ("cures", "fault", action.cures, entries.faults),
            ("faults", "fault", action.faults, entries.faults),
            ("settles", "finding", action.settles, entries.findings),
            ("cautions", "caution", action.cautions, entries.cautions),
            ("after", "action", action.after, entries.actions),
        ):
            yield from _unknown(entries, label, key, kind, names, valid)


def _broken_links(entries: Entries) -> Iterator[Problem]:
    for link in entries.links:
        label = f"link {link.fault} {link.finding}"
        yield from _unknown(entries, label, "", "fault", (link.fault,), entries.faults)
        yield from _unknown(entries, label, "", "finding", (link.finding,), entries.findings)
        fault, finding = entries.faults.get(link.fault), entries.findings.get(link.finding)
        if fault is None or finding is None or ANY_PROCESS in (fault.process, finding.process):
            continue
        if fault.process != finding.process:
            message = f"joins a fault of {fault.process} and a finding of {finding.process}"
            yield Problem(entries.files.get(label, ""), label, message)


def _broken_phrases(entries: Entries) -> Iterator[Problem]:
    subjects: Mapping[str, tuple[str, Collection[str]]] = {
        "finding": ("finding", entries.findings),
        "risk": ("risk", entries.risks),
        "tried": ("action", entries.actions),
        "guess": ("fault", entries.faults),
        "danger": ("danger", entries.dangers),
    }
    for kind, names in entries.phrases.items():
        subject, valid = subjects[kind]
        for name in names:
            yield from _unknown(entries, f"phrases {kind}.{name}", "", subject, (name,), valid)


def _unknown_sources(entries: Entries) -> Iterator[Problem]:
    sourced: list[tuple[str, str]] = [
        (f"{kind} {name}", entry.source)
        for kind, table in (
            ("fault", entries.faults),
            ("finding", entries.findings),
            ("risk", entries.risks),
            ("action", entries.actions),
            ("material", entries.materials),
            ("machine", entries.machines),
        )
        for name, entry in table.items()
    ]
    sourced += [(f"link {link.fault} {link.finding}", link.source) for link in entries.links]
    sourced += [
        (f"material {code}", source)
        for code, material in entries.materials.items()
        for source in material.sources.values()
    ]
    for label, source in sourced:
        yield from _unknown(entries, label, "source", "source", (source,), entries.sources)


def _unknown(
    entries: Entries,
    label: str,
    key: str,
    kind: str,
    names: Iterable[str],
    valid: Collection[str],
) -> Iterator[Problem]:
    """Yield a problem for each name that is not valid."""
    for name in names:
        if name not in valid:
            where = f"{label}: {key}" if key else label
            message = f"unknown {kind} '{name}'{suggest(name, valid)}"
            yield Problem(entries.files.get(label, ""), where, message)


def _gaps(entries: Entries) -> Iterator[Problem]:
    """Yield what would leave a case without a question or an answer."""
    linked_faults = {link.fault for link in entries.links}
    linked_findings = {link.finding for link in entries.links}
    remedies = [action for action in entries.actions.values() if action.kind == "remedy"]
    for fault in entries.faults.values():
        label = f"fault {fault.id}"
        file = entries.files.get(label, "")
        if fault.id not in linked_faults:
            yield Problem(file, label, "no finding is linked to this fault")
        cures = [action for action in remedies if fault.id in action.cures]
        if not cures:
            yield Problem(file, label, "no remedy cures this fault")
        for action in cures:
            if ANY_PROCESS not in (action.process, fault.process) and not applies_to(
                action.process, fault.process
            ):
                message = f"its remedy '{action.id}' is for {action.process}"
                yield Problem(file, label, message)
    for finding in entries.findings.values():
        if finding.id not in linked_findings and finding.danger is None:
            label = f"finding {finding.id}"
            yield Problem(entries.files.get(label, ""), label, "no fault explains this finding")
    for action in entries.actions.values():
        label = f"action {action.id}"
        file = entries.files.get(label, "")
        if action.kind == "check" and not action.settles:
            yield Problem(file, f"{label}: settles", "a check must settle a finding")
        if action.kind == "remedy" and not action.cures:
            yield Problem(file, f"{label}: cures", "a remedy must cure a fault")
        if action.id in _all_before(entries, action.id):
            yield Problem(file, f"{label}: after", "it would have to come after itself")


def _all_before(entries: Entries, action: str) -> set[str]:
    """Return the actions that must come before one, directly or through others."""
    before: set[str] = set()
    waiting = [action]
    while waiting:
        entry = entries.actions.get(waiting.pop())
        new = set(entry.after) - before if entry else set()
        before |= new
        waiting += new
    return before
