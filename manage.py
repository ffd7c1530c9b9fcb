#!/usr/bin/env python
"""Run one of the desk's commands; `python manage.py help` lists them."""

import os
import sys


def main() -> None:
    """Hand the command line to Django with the embedded settings as default."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "helpdesk.config.settings.dev")
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
