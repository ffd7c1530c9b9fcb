"""Addresses of the episodes app."""

from django.urls import path

from helpdesk.episodes.views import downloads, episodes, kinds, parts, sheet, teases

app_name = "episodes"
urlpatterns = [
    path("episodes", episodes.episodes, name="episodes"),
    path("episodes/new", episodes.new_episode, name="new_episode"),
    path("episodes/kinds", kinds.kinds, name="kinds"),
    path("episodes/kinds/<int:kind>", kinds.edit_kind, name="edit_kind"),
    path("episodes/kinds/<int:kind>/remove", kinds.drop_kind, name="drop_kind"),
    path("episodes/withdrawals", episodes.withdrawals, name="withdrawals"),
    path(
        "episodes/withdrawals/<int:withdrawal_id>/seen",
        episodes.see_withdrawal,
        name="see_withdrawal",
    ),
    path("episodes/<int:number>", sheet.run_sheet, name="run_sheet"),
    path("episodes/<int:number>/paper", sheet.print_sheet, name="print_sheet"),
    path("episodes/<int:number>/pdf", downloads.sheet_pdf, name="sheet_pdf"),
    path("episodes/<int:number>/table", downloads.sheet_table, name="sheet_table"),
    path("episodes/<int:number>/script", sheet.script, name="script"),
    path("episodes/<int:number>/teases", teases.teases, name="teases"),
    path("episodes/<int:number>/edit", episodes.edit_episode, name="edit_episode"),
    path("episodes/<int:number>/parts", sheet.add_part, name="add_part"),
    path("episodes/<int:number>/cases", sheet.add_case, name="add_case"),
    path("episodes/<int:number>/parts/<int:part>", parts.edit_part, name="edit_part"),
    path("episodes/<int:number>/parts/<int:part>/remove", sheet.remove_part, name="remove_part"),
    path("episodes/<int:number>/parts/<int:part>/move", sheet.move_part, name="move_part"),
    path("episodes/<int:number>/out", episodes.mark_out, name="mark_out"),
    path("cases/<int:number>/candidate", episodes.candidate_panel, name="candidate_panel"),
]
