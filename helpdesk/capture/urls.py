"""Addresses of the capture app."""

from django.urls import path

from helpdesk.capture import views

app_name = "capture"
urlpatterns = [
    path("capture", views.paste, name="paste"),
    path("capture/look", views.look, name="look"),
]
