"""Addresses of the supply app."""

from django.urls import path

from helpdesk.supply import notice_views, statement_views, views

app_name = "supply"
STATEMENT = "supply/statements/<int:statement_id>"
urlpatterns = [
    path("supply", views.subjects, name="subjects"),
    path("supply/new", views.new_subject, name="new_subject"),
    path("supply/<int:subject_id>", views.subject, name="subject"),
    path("supply/<int:subject_id>/change", views.edit_subject, name="edit_subject"),
    path("supply/<int:subject_id>/cases", views.link, name="link"),
    path("supply/<int:subject_id>/cases/<int:number>/drop", views.unlink, name="unlink"),
    path("supply/corrections", views.corrections, name="corrections"),
    path("supply/corrections/new", views.new_correction, name="new_correction"),
    path(
        "supply/corrections/<int:remark_id>/withdraw",
        views.withdraw_correction,
        name="withdraw_correction",
    ),
    path("cases/<int:number>/supply", views.case_panel, name="case_panel"),
    path("cases/<int:number>/mentions", views.answer_mentions, name="answer_mentions"),
    path("cases/<int:number>/statement", statement_views.new_statement, name="new_statement"),
    path(
        "cases/<int:number>/nothing-adverse",
        statement_views.nothing_adverse,
        name="nothing_adverse",
    ),
    path(STATEMENT, statement_views.statement, name="statement"),
    path(f"{STATEMENT}/change", statement_views.change, name="change_statement"),
    path(f"{STATEMENT}/drop", statement_views.drop, name="drop_statement"),
    path(f"{STATEMENT}/pictures", statement_views.picture, name="add_picture"),
    path(
        f"{STATEMENT}/pictures/<int:picture_id>/drop",
        statement_views.drop_picture,
        name="drop_picture",
    ),
    path(f"{STATEMENT}/ask", statement_views.ask, name="ask_reply"),
    path(f"{STATEMENT}/reply", statement_views.reply, name="record_reply"),
    path(f"{STATEMENT}/let-stand", statement_views.let_stand, name="let_stand"),
    path("supply/<int:subject_id>/notice", notice_views.new_notice, name="new_notice"),
    path("supply/notices/<int:notice_id>", notice_views.notice, name="notice"),
    path("supply/notices/<int:notice_id>/change", notice_views.edit_notice, name="edit_notice"),
    path("supply/notices/<int:notice_id>/ready", notice_views.ready, name="ready"),
    path("supply/notices/<int:notice_id>/withdraw", notice_views.withdraw, name="withdraw"),
    path("notices", notice_views.public_notices, name="public_notices"),
    path(
        "notices/<int:notice_id>/photos/<int:photo_id>/<slug:size>",
        notice_views.public_photo,
        name="public_photo",
    ),
]
