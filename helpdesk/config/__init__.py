"""Settings, addresses and start-up of the desk."""

from helpdesk.config.celery import app as celery_app

__all__ = ["celery_app"]
