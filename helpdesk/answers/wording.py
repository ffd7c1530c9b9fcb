"""The words of a draft; sentences stand in templates/answers/email."""

from django.conf import settings
from django.template.loader import render_to_string

from helpdesk.accounts.models import User
from helpdesk.answers.advice import Advice
from helpdesk.answers.letters import normalise
from helpdesk.cases.models import Case, Channel

SHORT_WAIT_MINUTES = 10


def write_body(case: Case, advice: Advice) -> str:
    """Return a draft's text: greeting, what we see, why, what to do first, then."""
    first, then = split_steps(advice)
    context = {"case": case, "greeting": greeting_name(case), "advice": advice}
    return normalise(
        render_to_string("answers/email/body.txt", {**context, "first": first, "then": then})
    )


def write_opening(case: Case, *, is_shared: bool = False) -> str:
    """Return the greeting and thanks a draft begins with; a shared answer says that it is one."""
    context = {"case": case, "greeting": greeting_name(case), "is_shared": is_shared}
    return normalise(render_to_string("answers/email/opening.txt", context))


def split_steps(advice: Advice) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the first steps (all safety steps and the one after them) and the later ones."""
    safety = sum(1 for step in advice.steps if step.kind == "safety")
    texts = tuple(_step_text(step.name, step.how, step.wait_minutes) for step in advice.steps)
    return texts[: safety + 1], texts[safety + 1 :]


def write_closing(case: Case, actor: User | None, *, via: str) -> str:
    """Return the last paragraphs: how to tell us, and who writes."""
    context = {
        "is_mail": via == Channel.MAIL,
        "writer": actor.short_name if actor else "",
        "desk_name": settings.DESK_NAME,
    }
    return normalise(render_to_string("answers/email/closing.txt", context))


def write_subject(case: Case) -> str:
    """Return the subject line of an answer by mail."""
    return render_to_string("answers/email/subject.txt", {"case": case}).strip()


def greeting_name(case: Case) -> str:
    """Return the name to greet somebody by, or ""."""
    given = case.person_name.split()
    return given[0] if given else case.handle


def _step_text(name: str, how: str, wait_minutes: float) -> str:
    """Return a step as sentences."""
    wait = ""
    if wait_minutes >= SHORT_WAIT_MINUTES:
        wait = render_to_string("answers/email/wait.txt", {"wait": _span(wait_minutes)}).strip()
    return " ".join(filter(None, (f"{name.rstrip('.')}.", how.strip(), wait)))


def _span(minutes: float) -> str:
    """Return a waiting time in minutes, or in hours from two hours on."""
    return f"{round(minutes / 60)} hours" if minutes >= 120 else f"{round(minutes)} minutes"
