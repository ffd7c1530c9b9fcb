"""Addresses of the supply app."""

from django.urls import path

from helpdesk.supply import views

app_name = "supply"
urlpatterns = [
    path("supply", views.subjects, name="subjects"),
    path("supply/<int:subject_id>", views.subject, name="subject"),
]
