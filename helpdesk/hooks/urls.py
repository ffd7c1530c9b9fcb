"""Addresses of the hooks app."""

from django.urls import path

from helpdesk.hooks.endpoint import receive_hook

app_name = "hooks"
urlpatterns = [
    path("hooks/in/<str:public_id>", receive_hook, name="receive"),
]
