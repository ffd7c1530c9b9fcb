"""Addresses of the photos app."""

from django.urls import path

from helpdesk.photos import views

app_name = "photos"
urlpatterns = [
    path("photos/<int:photo_id>/<slug:size>", views.photo, name="photo"),
]
