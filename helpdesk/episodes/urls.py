"""Addresses of the episodes app."""

from django.urls import URLPattern

app_name = "episodes"
urlpatterns: list[URLPattern] = []
