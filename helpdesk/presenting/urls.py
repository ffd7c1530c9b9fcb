"""Addresses of the presenting app."""

from django.urls import path

from helpdesk.presenting import views

app_name = "presenting"
urlpatterns = [
    path("episodes/<int:number>/present", views.present, name="present"),
    path("episodes/<int:number>/present/state", views.state, name="state"),
    path("episodes/<int:number>/present/time", views.time, name="time"),
    path("episodes/<int:number>/present/events", views.events, name="events"),
    path("episodes/<int:number>/present/worker.js", views.worker, name="worker"),
    path("episodes/<int:number>/marks", views.marks, name="marks"),
]
