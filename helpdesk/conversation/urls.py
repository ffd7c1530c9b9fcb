"""Addresses of the conversation app."""

from django.urls import URLPattern

app_name = "conversation"
urlpatterns: list[URLPattern] = []
