"""All addresses, in one place; each app's own stand in its urls module."""

from django.contrib import admin
from django.contrib.auth.decorators import login_not_required
from django.urls import include, path
from django.views.generic import TemplateView

from helpdesk.accounts.views import admin_login
from helpdesk.core import views

handler400 = "helpdesk.core.views.not_understood"
admin.site.login = admin_login  # type: ignore[method-assign, assignment]
urlpatterns = [
    path("", views.home, name="home"),
    path("alive", views.alive, name="alive"),
    path(
        "privacy",
        login_not_required(TemplateView.as_view(template_name="public/privacy.html")),
        name="privacy",
    ),
    path(
        "help",
        login_not_required(TemplateView.as_view(template_name="public/help.html")),
        name="help_public",
    ),
    path("desk/help", TemplateView.as_view(template_name="desk_help.html"), name="help_desk"),
    path("", include("helpdesk.intake.urls")),
    path("", include("helpdesk.review.urls")),
    path("", include("helpdesk.answers.urls")),
    path("", include("helpdesk.photos.urls")),
    path("", include("helpdesk.search.urls")),
    path("", include("helpdesk.episodes.urls")),
    path("", include("helpdesk.followup.urls")),
    path("", include("helpdesk.outbox.urls")),
    path("", include("helpdesk.learning.urls")),
    path("", include("helpdesk.agreement.urls")),
    path("", include("helpdesk.printfiles.urls")),
    path("", include("helpdesk.people.urls")),
    path("", include("helpdesk.mailroom.urls")),
    path("", include("helpdesk.hooks.urls")),
    path("", include("helpdesk.api.urls")),
    path("", include("helpdesk.capture.urls")),
    path("", include("helpdesk.duplicates.urls")),
    path("", include("helpdesk.conversation.urls")),
    path("", include("helpdesk.keeping.urls")),
    path("", include("helpdesk.week.urls")),
    path("", include("helpdesk.supply.urls")),
    path("", include("helpdesk.choosing.urls")),
    path("", include("helpdesk.presenting.urls")),
    path("", include("helpdesk.aftershow.urls")),
    path("", include("helpdesk.archive.urls")),
    path("", include("helpdesk.season.urls")),
    path("accounts/", include("helpdesk.accounts.urls")),
    path("admin/", admin.site.urls),
]
