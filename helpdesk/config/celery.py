"""The worker's application; tasks live in each app's tasks module."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "helpdesk.config.settings.dev")

app = Celery("printward")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
