"""Addresses of the hooks app."""

from django.urls import URLPattern

app_name = "hooks"
urlpatterns: list[URLPattern] = []
