"""Addresses of the supply app."""

from django.urls import URLPattern

app_name = "supply"
urlpatterns: list[URLPattern] = []
