"""Addresses of the followup app."""

from django.urls import URLPattern

app_name = "followup"
urlpatterns: list[URLPattern] = []
