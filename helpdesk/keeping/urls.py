"""Addresses of the keeping app."""

from django.urls import path

from helpdesk.keeping import views

app_name = "keeping"
urlpatterns = [
    path("cases/<int:number>/agreed", views.consents, name="consents"),
    path("cases/<int:number>/agreed/told", views.keep_told, name="keep_told"),
    path("cases/<int:number>/copy", views.copy_case, name="copy_case"),
    path("cases/<int:number>/erase", views.erase_case, name="erase_case"),
    path("people/<int:person_id>/copy", views.copy_person, name="copy_person"),
    path("people/<int:person_id>/erase", views.erase_person, name="erase_person"),
    path("removed", views.removals, name="removals"),
]
