"""Addresses of the duplicates app."""

from django.urls import path

from helpdesk.duplicates import views

app_name = "duplicates"
urlpatterns = [
    path("duplicates", views.proposals, name="proposals"),
    path("duplicates/likely", views.likely, name="likely"),
    path("duplicates/<int:proposal>/decide", views.decide, name="decide"),
    path("duplicates/<int:proposal>/undo", views.undo, name="undo"),
    path("cases/<int:number>/duplicates", views.panel, name="panel"),
    path("cases/<int:number>/join", views.join, name="join"),
    path("cases/<int:number>/part", views.part, name="part"),
]
