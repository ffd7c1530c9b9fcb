"""Addresses of the choosing app."""

from django.urls import path

from helpdesk.choosing import views

app_name = "choosing"
urlpatterns = [
    path("episodes/weights", views.weights, name="weights"),
    path("episodes/<int:number>/choose", views.choose, name="choose"),
    path("episodes/<int:number>/choose/wish", views.wish, name="wish"),
    path("episodes/<int:number>/choose/swap", views.swap, name="swap"),
    path("episodes/<int:number>/choose/rules", views.rules, name="rules"),
    path("episodes/<int:number>/choose/put", views.put, name="put"),
]
