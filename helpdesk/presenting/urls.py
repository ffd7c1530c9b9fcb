"""Addresses of the presenting app."""

from django.urls import URLPattern

app_name = "presenting"
urlpatterns: list[URLPattern] = []
