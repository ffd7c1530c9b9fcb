"""Diagnosis: the engine's view of a case and what reviewers make of it."""

from django.apps import AppConfig


class DiagnosisConfig(AppConfig):
    """Diagnosis: the engine's view of a case and what reviewers make of it."""

    name = "helpdesk.diagnosis"
    verbose_name = "Diagnosis"
