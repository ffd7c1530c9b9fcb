"""Addresses of the choosing app."""

from django.urls import URLPattern

app_name = "choosing"
urlpatterns: list[URLPattern] = []
