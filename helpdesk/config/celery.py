"""The worker's application; tasks live in each app's tasks module."""

import os
from pathlib import Path
from typing import Any

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "helpdesk.config.settings.dev")

app = Celery("printward")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


@app.on_after_configure.connect
def make_folders(sender: Celery, **kwargs: Any) -> None:
    """Make the folders of the embedded shape's queue, which its transport takes for granted."""
    if sender.conf.task_always_eager:
        return
    options = sender.conf.broker_transport_options
    for name in ("data_folder_in", "control_folder"):
        if name in options:
            Path(options[name]).mkdir(parents=True, exist_ok=True)
