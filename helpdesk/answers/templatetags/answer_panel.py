"""What the answer panel needs wherever it is included."""

from typing import Any

from django import template

from helpdesk.answers.forms import DraftForm, PublishForm
from helpdesk.answers.letters import Letter
from helpdesk.answers.models import Answer
from helpdesk.answers.panel import (
    make_draft_form,
    make_publish_form,
    preview_letter,
    public_letter,
    sent_letter,
)
from helpdesk.answers.selectors import name_step

register = template.Library()


@register.simple_tag(takes_context=True)
def draft_form(context: Any, answer: Answer) -> DraftForm:
    """Return the draft's form: the posted one when the view has one, else a fresh one."""
    return context.get("typed_form") or make_draft_form(answer)


@register.simple_tag(takes_context=True)
def draft_letter(context: Any, answer: Answer) -> Letter:
    """Return the draft as its reader will see it, with unsaved words when the view has them."""
    return context.get("typed_letter") or preview_letter(answer, context["request"].user)


@register.simple_tag(takes_context=True)
def publish_form(context: Any, answer: Answer) -> PublishForm:
    """Return the publishing form: the posted one when the view has one, else a fresh one."""
    return context.get("typed_publish_form") or make_publish_form(answer)


@register.filter
def step_name(remedy: str) -> str:
    """Return what an outcome says did it, in words."""
    return name_step(remedy)


@register.filter
def as_sent(answer: Answer) -> Letter:
    """Return a sent answer as a letter."""
    return sent_letter(answer)


@register.filter
def as_published(answer: Answer) -> Letter:
    """Return a published answer as a letter."""
    return public_letter(answer)
