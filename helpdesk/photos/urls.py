"""Addresses of the photos app."""

from django.urls import URLPattern

app_name = "photos"
urlpatterns: list[URLPattern] = []
