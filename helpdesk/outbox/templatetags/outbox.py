"""How the outbox words the work of the desk."""

from django import template

from helpdesk.core.models import Job

register = template.Library()

JOB_WORDS = {
    "send-mail": "Sending a letter",
    "diagnose-case": "Reading and weighing a case",
    "index-case": "Making a case findable",
    "prepare-photo": "Making a photo ready",
    "forget-case": "Taking an erased case off the run sheets",
}


@register.filter
def job_words(job: Job) -> str:
    """Return what a job does, in words; its kind when it is a new one."""
    return JOB_WORDS.get(job.kind, job.kind)
