"""Print files: the files a case came with that are no photos."""

from django.apps import AppConfig


class PrintfilesConfig(AppConfig):
    """Print files: the files a case came with that are no photos."""

    name = "helpdesk.printfiles"
    verbose_name = "Print files"
