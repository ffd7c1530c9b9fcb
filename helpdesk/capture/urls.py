"""Addresses of the capture app."""

from django.urls import path

from helpdesk.capture import table_views, views

app_name = "capture"
urlpatterns = [
    path("capture", views.paste, name="paste"),
    path("capture/look", views.look, name="look"),
    path("capture/table", table_views.table, name="table"),
    path("capture/table/<int:table_id>", table_views.table_import, name="table_import"),
    path("capture/table/<int:table_id>/refused", table_views.table_refused, name="table_refused"),
]
