"""Addresses of the season app."""

from django.urls import path

from helpdesk.season import views

app_name = "season"
urlpatterns = [
    path("season", views.season, name="season"),
    path("season.csv", views.season_table, name="season_table"),
]
