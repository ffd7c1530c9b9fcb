"""Addresses of the archive app."""

from django.urls import path

from helpdesk.archive import views

app_name = "archive"
urlpatterns = [
    path("archive", views.archive, name="archive"),
    path("archive/uploads", views.uploads, name="uploads"),
    path("archive/upload", views.upload, name="upload"),
    path("archive/<int:number>", views.show, name="show"),
    path("archive/<int:number>/captions.vtt", views.captions, name="captions"),
    path("archive/<int:number>/facts", views.facts, name="facts"),
    path("archive/<int:number>/remove", views.remove, name="remove"),
    path("archive/<int:number>/correct", views.correct, name="correct"),
]
