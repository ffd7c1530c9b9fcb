"""Addresses of the answers app."""

from django.urls import URLPattern

app_name = "answers"
urlpatterns: list[URLPattern] = []
