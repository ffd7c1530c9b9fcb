"""Addresses of the outbox app."""

from django.urls import URLPattern

app_name = "outbox"
urlpatterns: list[URLPattern] = []
