"""Addresses of the intake app."""

from django.urls import path

from helpdesk.intake import tracking, views

app_name = "intake"
urlpatterns = [
    path("report", views.report, name="report"),
    path("report/understood", views.understood, name="understood"),
    path("report/photos", views.upload_photo, name="upload_photo"),
    path("report/photos/remove", views.remove_draft_photo, name="remove_draft_photo"),
    path("report/photos/<str:draft_key>/<int:photo_id>", views.draft_photo, name="draft_photo"),
    path("new-link", views.new_link, name="new_link"),
    path("new-link/sent", views.link_sent, name="link_sent"),
    path("erased", views.erased, name="erased"),
    path("t/<str:token>", tracking.track, name="track"),
    path("t/<str:token>/reply", tracking.reply, name="reply"),
    path("t/<str:token>/outcome", tracking.outcome, name="outcome"),
    path("t/<str:token>/consent", tracking.consent, name="consent"),
    path("t/<str:token>/copy", tracking.copy_case, name="copy"),
    path("t/<str:token>/erase", tracking.erase_case, name="erase"),
    path(
        "t/<str:token>/photos/<int:photo_id>/<slug:size>", tracking.track_photo, name="track_photo"
    ),
]
