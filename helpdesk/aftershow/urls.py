"""Addresses of the aftershow app."""

from django.urls import URLPattern

app_name = "aftershow"
urlpatterns: list[URLPattern] = []
