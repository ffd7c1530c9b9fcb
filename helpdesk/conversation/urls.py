"""Addresses of the conversation app."""

from django.urls import path

from helpdesk.conversation import text_views, views

app_name = "conversation"
urlpatterns = [
    path("cases/<int:number>/conversation", views.conversation, name="conversation"),
    path("cases/<int:number>/letters/<int:mail_id>/again", views.send_again, name="send_again"),
    path("cases/<int:number>/texts", text_views.copy_texts, name="copy_texts"),
    path("texts", text_views.texts, name="texts"),
    path("texts/new", text_views.new_text, name="new_text"),
    path("texts/preview", text_views.preview_text, name="preview_text"),
    path("texts/<int:text_id>", text_views.edit_text, name="edit_text"),
    path("texts/<int:text_id>/drop", text_views.drop, name="drop_text"),
]
