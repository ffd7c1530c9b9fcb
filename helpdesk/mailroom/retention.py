"""For how long the mailroom keeps letters that came in."""

from collections.abc import Sequence

from helpdesk.keeping.rules import retention_rule
from helpdesk.mailroom.models import IncomingMail, MailState
from helpdesk.mailroom.services import erase_letter

# A letter that nobody has settled yet is kept however old it is.
SETTLED = (MailState.TAKEN, MailState.KEPT, MailState.DISMISSED)


@retention_rule(
    "letters that came",
    setting="mail",
    what="Letters that came",
    find=lambda moment: IncomingMail.objects.filter(
        received_at__lt=moment, state__in=SETTLED
    ).order_by("pk"),
)
def remove_letters_in(ids: Sequence[int]) -> int:
    """Erase letters with their files; what they said stays with the case."""
    letters = list(IncomingMail.objects.filter(pk__in=ids).exclude(state=MailState.ERASED))
    for mail in letters:
        erase_letter(mail)
    return len(letters)
