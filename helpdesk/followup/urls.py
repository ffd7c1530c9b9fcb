"""Addresses of the followup app."""

from django.urls import path

from helpdesk.followup import telling, views

app_name = "followup"
urlpatterns = [
    path("follow-ups", views.due, name="due"),
    path("follow-ups/<int:number>/asked", views.asked, name="asked"),
    path("follow-ups/<int:number>/heard", views.heard, name="heard"),
    path("how/<str:token>", telling.tell, name="tell"),
]
