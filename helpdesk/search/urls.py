"""Addresses of the search app."""

from django.urls import URLPattern

app_name = "search"
urlpatterns: list[URLPattern] = []
