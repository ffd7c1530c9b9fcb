"""Addresses of the answers app."""

from django.urls import path

from helpdesk.answers import library, views

app_name = "answers"
urlpatterns = [
    path("cases/<int:number>/answer", views.panel, name="panel"),
    path("cases/<int:number>/answer/draft", views.draft, name="draft"),
    path("cases/<int:number>/answer/save", views.save, name="save"),
    path("cases/<int:number>/answer/preview", views.preview, name="preview"),
    path("cases/<int:number>/answer/send", views.send, name="send"),
    path("cases/<int:number>/answer/sent", views.sent_elsewhere, name="sent_elsewhere"),
    path("cases/<int:number>/answer/publish", views.publish, name="publish"),
    path("cases/<int:number>/answer/unpublish", views.unpublish, name="unpublish"),
    path("answers", library.library, name="library"),
    path("answers/<int:answer_id>", library.published, name="published"),
    path("answers/<int:answer_id>/photos/<int:photo_id>/<str:size>", library.photo, name="photo"),
]
