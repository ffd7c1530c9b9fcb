"""Addresses of the hooks app."""

from django.urls import path, register_converter
from django.urls.converters import StringConverter

from helpdesk.hooks import views
from helpdesk.hooks.endpoint import receive_hook


class PartyConverter(StringConverter):
    """Which of the two kinds an address speaks of."""

    regex = "sources|targets"


register_converter(PartyConverter, "hook_party")
app_name = "hooks"
urlpatterns = [
    path("hooks", views.hooks, name="hooks"),
    path("hooks/in/<str:public_id>", receive_hook, name="receive"),
    path("hooks/sources/new", views.new_source, name="new_source"),
    path("hooks/sources/<int:pk>", views.source, name="source"),
    path("hooks/targets/new", views.new_target, name="new_target"),
    path("hooks/targets/<int:pk>", views.target, name="target"),
    path("hooks/targets/<int:pk>/try", views.try_target, name="try_target"),
    path("hooks/targets/<int:pk>/again", views.send_range, name="send_range"),
    path("hooks/<hook_party:party>/<int:pk>/secret", views.new_secret, name="new_secret"),
    path("hooks/<hook_party:party>/<int:pk>/switch", views.switch, name="switch"),
    path("hooks/deliveries/<int:pk>", views.delivery, name="delivery"),
    path("hooks/deliveries/<int:pk>/again", views.send_again, name="send_again"),
]
