"""Addresses of second looks and agreement."""

from django.urls import path

from helpdesk.agreement import views

app_name = "agreement"
urlpatterns = [
    path("second-looks", views.second_looks, name="second_looks"),
    path("agreement", views.agreement, name="agreement"),
    path("cases/<int:number>/second-look", views.second_look, name="second_look"),
    path("cases/<int:number>/second-look/close", views.close_look, name="close_look"),
    path("cases/<int:number>/second-look/ask", views.ask_look, name="ask_look"),
    path("cases/<int:number>/second-looks", views.case_looks, name="case_looks"),
]
