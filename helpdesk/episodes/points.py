"""Talking points to start from, written from what the desk makes of a case."""

from helpdesk.answers.advice import gather_advice
from helpdesk.cases.models import Case


def suggest_points(case: Case) -> list[str]:
    """Return talking points to start from: what was seen, why, what helps.

    What must be said for safety is no talking point: it stands on the sheet whatever is written.
    """
    advice = gather_advice(case)
    points = [f"{case.title}: {_facts_line(case)}".rstrip(": ")]
    points += [f"{cause.name}. {cause.why}" for cause in advice.causes[:2]]
    points += [f"What helps: {s.how}" for s in advice.steps if s.kind == "remedy"][:1]
    return points


def _facts_line(case: Case) -> str:
    """Return printer, material and height in one line."""
    parts = [case.machine, case.material]
    if case.failed_at_mm is not None:
        parts.append(f"failed at {case.failed_at_mm:g} mm")
    return ", ".join(p for p in parts if p)
