"""How the review pages word sources, settling power and masked addresses."""

from collections.abc import Sequence

from django import template

from helpdesk.cases.models import Case
from helpdesk.diagnosis.values import CaseView, FindingView, QuestionView, StepView
from helpdesk.review.read_facts import ReadFact, list_read_facts

register = template.Library()

UNSURE_BELOW = 0.8  # sureness under which words count as unsure [judgement: desk, 2026-11-25]
SOURCE_WORDS = {
    "text": "in their words",
    "form": "in their words",
    "report": "in their words",
    "person": "their answer",
    "reviewer": "set by us",
    "": "nobody has said",
}
# Words for a question's gain beside that of the best one, from the least share. Our own scale.
SETTLES_WORDS = (
    (0.999, "Settles most"),
    (0.66, "Settles nearly as much"),
    (0.33, "Settles some"),
    (0.0, "Settles little now"),
)


@register.filter
def source_words(source: str) -> str:
    """Return where a piece of evidence comes from, in words."""
    return SOURCE_WORDS.get(source, source)


@register.filter
def origin(finding: FindingView) -> str:
    """Return where a finding comes from and how sure its words are."""
    if finding.sureness is not None and finding.sureness < UNSURE_BELOW:
        return "in their words, unsure"
    return source_words(finding.source)


@register.filter
def settles(question: QuestionView) -> str:
    """Return how much a question settles and what it costs the person, as sentences."""
    power = next(words for least, words in SETTLES_WORDS if question.share >= least)
    minutes = _minutes(question.minutes)
    tools = " and ".join(question.needs)
    return f"{power}. It takes {minutes}" + (f" and needs {tools}." if tools else ".")


@register.filter
def read_facts(view: CaseView | None, case: Case) -> Sequence[ReadFact]:
    """Return what the words say of the facts where the case says nothing or otherwise."""
    return list_read_facts(case, view)


@register.filter
def fill_gaps(facts: Sequence[ReadFact]) -> bool:
    """Return True when one of these facts is not known to the case at all."""
    return any(fact.is_new for fact in facts)


@register.filter
def in_ten(step: StepView) -> str:
    """Return how many of ten such cases a remedy puts right, or "" when hardly any."""
    if step.kind != "remedy" or step.success <= 0:
        return ""
    tenths = round(step.success * 10)
    return f"Puts right about {tenths} in 10 such cases" if tenths else ""


@register.filter
def wait_words(minutes: float) -> str:
    """Return a waiting time in words, in hours from ninety minutes on."""
    if minutes < 90:
        return f"{round(minutes)} min"
    return f"{round(minutes / 60)} hours"


def _minutes(minutes: float) -> str:
    """Return a short time in words."""
    if minutes < 1:
        return "half a minute"
    return "a minute" if minutes == 1 else f"{minutes:g} minutes"


@register.filter
def masked(address: str) -> str:
    """Return the first letter of an address or handle and what it belongs to."""
    name, at, domain = address.rpartition("@")
    if at and name:
        return f"{name[:1]}…@{domain}"
    return f"{address[:1]}…" if address else ""
