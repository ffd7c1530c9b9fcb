"""Addresses of the archive app."""

from django.urls import URLPattern

app_name = "archive"
urlpatterns: list[URLPattern] = []
