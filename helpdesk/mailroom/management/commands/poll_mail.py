"""Read the mailboxes now instead of at the next round: ``python manage.py poll_mail``."""

import sys
from typing import Any

from django.core.management.base import BaseCommand

from helpdesk.mailroom.mailboxes import list_settings
from helpdesk.mailroom.models import Mailbox
from helpdesk.mailroom.polling import poll_mailboxes
from helpdesk.mailroom.services import receive_and_plan


class Command(BaseCommand):
    """Read the mailboxes once."""

    help = "Reads the mailboxes of PRINTWARD_MAIL_IN once. Exit status 1 when one failed."

    def handle(self, *args: Any, **options: Any) -> None:
        """Read and say how many letters came and which mailbox failed."""
        came = poll_mailboxes(receive_and_plan)
        self.stdout.write(f"{came} letters came.")
        names = [box.name for box in list_settings()]
        failing = Mailbox.objects.filter(name__in=names).exclude(last_error="")
        for box in failing:
            self.stderr.write(f"{box.name}: {box.last_error}")
        if failing:
            sys.exit(1)
