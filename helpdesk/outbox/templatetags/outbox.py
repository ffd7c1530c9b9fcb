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
    "note-withdrawal": "Telling the producer what may no longer be shown",
    "take-mail": "Taking in a letter",
    "import-table": "Taking in the rows of a table",
    "fetch-note-picture": "Fetching the picture of a note",
    "take-hook-message": "Taking in a message of a program",
    "take-hook-messages": "Taking in the messages of programs",
    "fetch-hook-picture": "Fetching a picture a program named",
    "announce-event": "Telling programs what happened",
    "deliver-hook": "Handing something to a program",
    "tell-hook-stop": "Telling that a program takes nothing any more",
    "note-people": "Noting whose case it is",
    "note-all-people": "Noting whose cases they are",
    "look-for-duplicates": "Looking for the same print among the cases",
    "note-subjects": "Noting which maker or lot a case names",
    "note-all-subjects": "Noting which makers and lots cases name",
    "import-captions": "Taking in the captions of a show",
    "read-archive-again": "Reading the segments of a show anew",
}


@register.filter
def job_words(job: Job) -> str:
    """Return what a job does, in words; its kind when it is a new one."""
    return JOB_WORDS.get(job.kind, job.kind)
