"""Addresses of the account pages."""

from django.urls import path

from helpdesk.accounts import views

app_name = "accounts"
urlpatterns = [
    path("login", views.DeskLoginView.as_view(), name="login"),
    path("logout", views.DeskLogoutView.as_view(), name="logout"),
    path("me", views.own_settings, name="own_settings"),
]
