"""Addresses of the capture app."""

from django.urls import URLPattern

app_name = "capture"
urlpatterns: list[URLPattern] = []
