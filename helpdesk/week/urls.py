"""Addresses of the week app."""

from django.urls import path

from helpdesk.week import views

app_name = "week"
urlpatterns = [
    path("week", views.week, name="week"),
    path("week.csv", views.week_table, name="week_table"),
]
