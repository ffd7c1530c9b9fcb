"""Addresses of the mailroom app."""

from django.urls import URLPattern

app_name = "mailroom"
urlpatterns: list[URLPattern] = []
