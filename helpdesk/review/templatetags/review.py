"""How the review pages word sources, settling power and masked addresses."""

from collections.abc import Sequence

from django import template

from helpdesk.cases.models import Case
from helpdesk.diagnosis.values import CaseView, FindingView, ForkView, QuestionView, StepView
from helpdesk.review.read_facts import ReadFact, list_read_facts

register = template.Library()

NOTABLE_DECIBANS = 1.0  # about a quarter more odds [judgement: desk, 2026-11-25]
UNSURE_BELOW = 0.8  # sureness under which words count as unsure [judgement: desk, 2026-11-25]
SOURCE_WORDS = {
    "text": "in their words",
    "form": "in their words",
    "report": "in their words",
    "person": "their answer",
    "misread": "misread, they say",
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
    saved = f" and saves about {round(question.saves)} min of repair" if question.saves >= 1 else ""
    return f"{power}{saved}. It takes {minutes}" + (f" and needs {tools}." if tools else ".")


@register.filter
def is_notable(decibans: float) -> bool:
    """Return whether a weight is worth a sentence."""
    return abs(decibans) >= NOTABLE_DECIBANS


@register.filter
def asking_pays(view: CaseView) -> str:
    """Return whether asking saves more work than it costs, and which questions go together."""
    together = sum(1 for question in view.questions if question.is_together)
    if not view.batch_pays:
        return "No question saves more work than it costs now: the plan can go out as it is."
    saves, costs = round(view.batch_saves), round(view.batch_costs)
    which = "The ticked question saves" if together == 1 else f"The {together} ticked together save"
    return f"{which} about {saves} min of repair on average, for {costs} min of asking and waiting."


@register.filter
def fork_words(fork: ForkView) -> str:
    """Return what a check decides: what follows for one answer, what is done for the other."""
    is_so = fork.follows == "present"
    chance = round(100 * (fork.present if is_so else 1 - fork.present))
    other = ", then ".join(fork.otherwise) or "go to the last resort"
    followed, otherwise = ("is so", "not") if is_so else ("is not so", "it is")
    return (
        f"If it {followed} ({chance}% likely: {fork.name}), go on below. If {otherwise}: {other}."
    )


@register.filter
def cost_words(step: StepView) -> str:
    """Return what a step takes: minutes, waiting, money."""
    parts = [f"{step.minutes:g} min"]
    if step.wait_minutes:
        parts.append(f"{wait_words(step.wait_minutes)} waiting")
    if step.money:
        parts.append(f"{step.money:g} in parts")
    return " + ".join(parts)


@register.filter
def expected_words(view: CaseView) -> str:
    """Return what the plan takes on average: minutes, waiting, money."""
    parts = [f"{round(view.expected_minutes)} min"]
    if view.expected_wait_minutes >= 1:
        parts.append(f"{wait_words(view.expected_wait_minutes)} waiting")
    if view.expected_money >= 0.5:
        parts.append(f"{view.expected_money:.0f} in parts")
    return " + ".join(parts)


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
