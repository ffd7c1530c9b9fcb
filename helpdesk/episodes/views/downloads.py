"""The run sheet as files: a table for spreadsheets, and a PDF for paper."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET

from helpdesk.core.tables import write_table
from helpdesk.episodes.models import Episode
from helpdesk.episodes.paper import write_pdf
from helpdesk.episodes.selectors import get_run_sheet
from helpdesk.episodes.table import TABLE_HEADER, table_rows
from helpdesk.episodes.views.access import may_look


@require_GET
@may_look
def sheet_table(request: HttpRequest, number: int) -> HttpResponse:
    """Download the run sheet as a table."""
    sheet = get_run_sheet(get_object_or_404(Episode, number=number))
    text = write_table(TABLE_HEADER, table_rows(sheet))
    return _download(text.encode(), f"run-sheet-{number}.csv", "text/csv; charset=utf-8")


@require_GET
@may_look
def sheet_pdf(request: HttpRequest, number: int) -> HttpResponse:
    """Download the run sheet as a PDF."""
    sheet = get_run_sheet(get_object_or_404(Episode, number=number))
    pdf = write_pdf(sheet, show_name=settings.SHOW_NAME)
    return _download(pdf, f"run-sheet-{number}.pdf", "application/pdf")


def _download(body: bytes, name: str, content_type: str) -> HttpResponse:
    """Return a file to keep, which no shared cache may."""
    response = HttpResponse(body, content_type=content_type)
    response["Content-Disposition"] = str(content_disposition_header(True, name))
    response["Cache-Control"] = "no-store, private"
    return response
