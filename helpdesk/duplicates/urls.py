"""Addresses of the duplicates app."""

from django.urls import URLPattern

app_name = "duplicates"
urlpatterns: list[URLPattern] = []
