"""Addresses of the api app."""

from django.urls import path

from helpdesk.api import views
from helpdesk.api.door import endpoint, nothing_here
from helpdesk.api.operations import operations_at

app_name = "api"
urlpatterns = [
    path("api", views.guide, name="guide"),
    path("api/problems/<slug:name>", views.problem, name="problem"),
    path("api/tokens", views.tokens, name="tokens"),
    path("api/tokens/<int:pk>", views.token, name="token"),
    path("api/tokens/<int:pk>/revoke", views.revoke, name="revoke"),
    path("api/v1/openapi.json", views.description, name="description"),
    path("api/v1/uploads", endpoint(operations_at("/uploads")), name="uploads"),
    path("api/v1/reports", endpoint(operations_at("/reports")), name="reports"),
    path("api/v1/cases/<str:ref>", endpoint(operations_at("/cases/{ref}")), name="case"),
    path(
        "api/v1/cases/<str:ref>/replies",
        endpoint(operations_at("/cases/{ref}/replies")),
        name="replies",
    ),
    path(
        "api/v1/cases/<str:ref>/outcome",
        endpoint(operations_at("/cases/{ref}/outcome")),
        name="outcome",
    ),
    path("api/v1/events", endpoint(operations_at("/events")), name="events"),
    path("api/v1/answers", endpoint(operations_at("/answers")), name="answers"),
    path("api/v1/inbox", endpoint(operations_at("/inbox")), name="inbox"),
    path("api/v1/<path:rest>", nothing_here, name="nothing_here"),
]
