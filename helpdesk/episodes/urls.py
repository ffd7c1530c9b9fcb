"""Addresses of the episodes app."""

from django.urls import path

from helpdesk.episodes import views

app_name = "episodes"
urlpatterns = [
    path("episodes", views.episodes, name="episodes"),
    path("episodes/new", views.new_episode, name="new_episode"),
    path("episodes/withdrawals", views.withdrawals, name="withdrawals"),
    path(
        "episodes/withdrawals/<int:withdrawal_id>/seen",
        views.see_withdrawal,
        name="see_withdrawal",
    ),
    path("episodes/<int:number>", views.run_sheet, name="run_sheet"),
    path("episodes/<int:number>/paper", views.print_sheet, name="print_sheet"),
    path("episodes/<int:number>/edit", views.edit_episode, name="edit_episode"),
    path("episodes/<int:number>/parts", views.add_part, name="add_part"),
    path("episodes/<int:number>/cases", views.add_case, name="add_case"),
    path("episodes/<int:number>/parts/<int:part>", views.edit_part, name="edit_part"),
    path("episodes/<int:number>/parts/<int:part>/remove", views.remove_part, name="remove_part"),
    path("episodes/<int:number>/parts/<int:part>/move", views.move_part, name="move_part"),
    path("episodes/<int:number>/out", views.mark_out, name="mark_out"),
    path("cases/<int:number>/candidate", views.candidate_panel, name="candidate_panel"),
]
