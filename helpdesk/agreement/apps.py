"""Agreement: second looks taken blind, and how far reviewers and engine agree."""

from django.apps import AppConfig


class AgreementConfig(AppConfig):
    """Agreement: second looks taken blind, and how far reviewers and engine agree."""

    name = "helpdesk.agreement"
    verbose_name = "Agreement"
