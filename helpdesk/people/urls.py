"""Addresses of the people app."""

from django.urls import URLPattern

app_name = "people"
urlpatterns: list[URLPattern] = []
