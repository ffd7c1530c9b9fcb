"""What of the letters of a person goes when they are forgotten: all but the sum of their bytes."""

from django.db.models import Q

from helpdesk.cases.erasure import eraser
from helpdesk.cases.models import Case
from helpdesk.mailroom.models import IncomingMail
from helpdesk.mailroom.services import erase_letter


@eraser("letters that came in")
def erase_part(case: Case) -> None:
    """Remove the letters about a case, and those that were thought to be about it."""
    for mail in IncomingMail.objects.filter(Q(case=case) | Q(suggested_case=case)):
        erase_letter(mail)
