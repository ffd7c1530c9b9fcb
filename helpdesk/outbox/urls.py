"""Addresses of the outbox app."""

from django.urls import path

from helpdesk.outbox import views

app_name = "outbox"
urlpatterns = [
    path("outbox", views.outbox, name="outbox"),
    path("outbox/<int:mail_id>", views.letter, name="letter"),
    path("notices/<str:token>", views.notices, name="notices"),
    path("outbox/jobs/<int:job_id>/again", views.retry, name="retry"),
]
