"""Addresses of the aftershow app."""

from django.urls import path

from helpdesk.aftershow import roll_views, views

app_name = "aftershow"
SHOW = "episodes/<int:number>/after"
urlpatterns = [
    path(SHOW, views.after_show, name="after_show"),
    path(f"{SHOW}/air", views.set_air, name="set_air"),
    path(f"{SHOW}/times", views.set_times, name="set_times"),
    path(f"{SHOW}/chapters.<str:ending>", views.chapters, name="chapters"),
    path(f"{SHOW}/texts", views.add_target, name="add_target"),
    path(f"{SHOW}/texts/<int:place>", views.edit_text, name="edit_text"),
    path(f"{SHOW}/texts/<int:place>.txt", views.download_text, name="download_text"),
    path(f"{SHOW}/texts/<int:place>/remove", views.remove_target, name="remove_target"),
    path(f"{SHOW}/told", views.mark_told, name="mark_told"),
    path(f"{SHOW}/rates", views.learn_rates, name="learn_rates"),
    path(f"{SHOW}/roll", roll_views.put_roll, name="put_roll"),
    path("supporters", roll_views.roll, name="roll"),
    path("supporters/new", roll_views.new_supporter, name="new_supporter"),
    path("supporters/<int:supporter_id>", roll_views.supporter, name="supporter"),
    path("supporters/<int:supporter_id>/erase", roll_views.erase, name="erase_supporter"),
    path("supporters/list", roll_views.new_list, name="new_list"),
    path("supporters/list/<int:draft_id>", roll_views.roll_draft, name="roll_draft"),
]
