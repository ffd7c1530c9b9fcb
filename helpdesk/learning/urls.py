"""Addresses of the learning app; number 0 stands for the expert's numbers alone."""

from django.urls import path

from helpdesk.learning import views

app_name = "learning"
urlpatterns = [
    path("learning", views.learning, name="learning"),
    path("learning/learn", views.learn, name="learn"),
    path("learning/compare", views.compare, name="compare"),
    path("learning/<int:number>", views.revision, name="revision"),
    path("learning/<int:number>/in-force", views.switch, name="switch"),
]
