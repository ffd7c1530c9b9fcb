"""Addresses of the mailroom app."""

from django.urls import path

from helpdesk.mailroom import views

app_name = "mailroom"
urlpatterns = [
    path("mailroom", views.mailroom, name="mailroom"),
    path("mailroom/<int:mail_id>", views.letter, name="letter"),
    path("mailroom/<int:mail_id>/raw", views.raw, name="raw"),
    path("mailroom/<int:mail_id>/belongs", views.belongs, name="belongs"),
    path("mailroom/<int:mail_id>/new-case", views.new_case, name="new_case"),
    path("mailroom/<int:mail_id>/again", views.again, name="again"),
    path("mailroom/<int:mail_id>/dismiss", views.dismiss, name="dismiss"),
    path("cases/<int:number>/letters", views.case_letters, name="case_letters"),
]
