"""Addresses of the people app."""

from django.urls import path

from helpdesk.people import views

app_name = "people"
urlpatterns = [
    path("people", views.people, name="people"),
    path("people/<int:person_id>", views.person, name="person"),
    path("people/<int:person_id>/contacts", views.reveal, name="reveal"),
    path(
        "people/<int:person_id>/contacts/<int:contact_id>/check",
        views.check_contact,
        name="check_contact",
    ),
    path("people/<int:person_id>/contacts/<int:contact_id>/split", views.split, name="split"),
    path("people/<int:person_id>/merge", views.merge, name="merge"),
    path("people/merges/<int:merge_id>/undo", views.undo_merge, name="undo_merge"),
    path("cases/<int:number>/people", views.case_panel, name="case_panel"),
    path("cases/<int:number>/people/owner-credit", views.credit_owner, name="credit_owner"),
]
