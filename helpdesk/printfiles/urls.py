"""Addresses of the print files app."""

from django.urls import path

from helpdesk.printfiles import views

app_name = "printfiles"
urlpatterns = [
    path("files/<int:file_id>", views.case_file, name="file"),
]
