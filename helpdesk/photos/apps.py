"""Photos: checked, cleaned and served to those who may see them."""

from django.apps import AppConfig


class PhotosConfig(AppConfig):
    """Photos: checked, cleaned and served to those who may see them."""

    name = "helpdesk.photos"
    verbose_name = "Photos"
