"""Addresses of the search app."""

from django.urls import path

from helpdesk.search import views

app_name = "search"
urlpatterns = [
    path("search", views.search, name="search"),
    path("search/quick", views.quick, name="quick"),
    path("cases/<int:number>/similar", views.similar, name="similar"),
]
