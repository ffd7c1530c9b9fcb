"""Addresses of the followup app."""

from django.urls import path

from helpdesk.followup import views

app_name = "followup"
urlpatterns = [
    path("follow-ups", views.due, name="due"),
    path("follow-ups/<int:number>/asked", views.asked, name="asked"),
]
