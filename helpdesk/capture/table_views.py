"""Bringing in a list of reports from a table."""

from typing import cast

from django.contrib.auth.decorators import permission_required
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe
from django.views.decorators.vary import vary_on_headers

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import REVIEW_CASES
from helpdesk.capture.imports import (
    keep_table,
    list_refused,
    look_at_table,
    read_again,
    set_plan,
    start_import,
)
from helpdesk.capture.models import ImportState, TableImport
from helpdesk.capture.sheets import DELIMITERS, ENCODINGS
from helpdesk.capture.table_forms import LayoutForm, PlanForm, TableForm
from helpdesk.core.errors import DeskError, RefusedInputError
from helpdesk.core.http import wants_fragment
from helpdesk.core.tables import write_table
from helpdesk.photos.limits import MAX_BYTES_WORDS
from helpdesk.photos.uploads import OversizeFile

LATEST = 20
TOO_LARGE = (
    f"The file is larger than {MAX_BYTES_WORDS}. Please cut it, or have it brought in on the "
    "desk’s own machine with “manage.py import_reports”."
)


@permission_required(REVIEW_CASES, raise_exception=True)
@require_http_methods(["GET", "HEAD", "POST"])
def table(request: HttpRequest) -> HttpResponse:
    """Take a table's file; nothing is made of it yet."""
    form = TableForm(request.POST or None, request.FILES or None)
    status = 200
    if request.method == "POST":
        if form.is_valid():
            file = cast("UploadedFile[bytes]", form.cleaned_data["table"])
            try:
                if isinstance(file, OversizeFile):
                    raise RefusedInputError(TOO_LARGE)
                kept = keep_table(file, label=file.name or "", actor=cast(User, request.user))
                return redirect(kept)
            except RefusedInputError as error:
                form.add_error("table", str(error))
        status = 422
    tables = TableImport.objects.select_related("made_by")[:LATEST]
    context = {"tab": "capture", "form": form, "tables": tables}
    return render(request, "capture/table.html", context, status=status)


@permission_required(REVIEW_CASES, raise_exception=True)
@require_http_methods(["GET", "HEAD", "POST"])
@vary_on_headers("HX-Request")
def table_import(request: HttpRequest, table_id: int) -> HttpResponse:
    """Settle what the columns are, see what would happen, begin, and watch it go on."""
    found = get_object_or_404(TableImport.objects.select_related("made_by"), pk=table_id)
    if found.state != ImportState.DRAFT:
        if request.method == "POST":
            return redirect(found)
        name = "_progress" if wants_fragment(request) else "table_progress"
        return render(request, f"capture/{name}.html", {"tab": "capture", "table": found})
    if request.method == "POST":
        return _settle(request, found)
    return _show(request, found, PlanForm(table=found))


@permission_required(REVIEW_CASES, raise_exception=True)
@require_safe
def table_refused(request: HttpRequest, table_id: int) -> HttpResponse:
    """Hand out the rows that were refused, with the reasons, as a table."""
    found = get_object_or_404(TableImport, pk=table_id)
    header, rows = list_refused(found)
    response = HttpResponse(write_table(header, rows), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="refused-rows-{found.pk}.csv"'
    response["X-Content-Type-Options"] = "nosniff"
    return response


def _settle(request: HttpRequest, found: TableImport) -> HttpResponse:
    """Do what a button of the draft's page says."""
    try:
        if request.POST.get("do") == "read":
            layout = LayoutForm(request.POST)
            if layout.is_valid():
                read_again(found, **layout.cleaned_data)
                return redirect(found)
            return _show(request, found, PlanForm(table=found), status=422)
        form = PlanForm(request.POST, table=found)
        if not form.is_valid():
            return _show(request, found, form, status=422)
        set_plan(
            found,
            columns=form.columns,
            date_order=form.cleaned_data["date_order"],
            channel=form.cleaned_data["channel"],
        )
        if request.POST.get("do") == "import":
            start_import(found.pk, look=look_at_table(found))
        return redirect(found)
    except DeskError as error:
        return _show(request, found, PlanForm(table=found), error=str(error), status=422)


def _show(
    request: HttpRequest,
    found: TableImport,
    form: PlanForm,
    *,
    error: str = "",
    status: int = 200,
) -> HttpResponse:
    """Show a draft with what would become of its rows."""
    try:
        look = look_at_table(found)
    except RefusedInputError as refused:
        look, error = None, str(refused)
    layout = {"encoding": found.encoding, "delimiter": found.delimiter}
    context = {
        "tab": "capture",
        "table": found,
        "form": form,
        "layout_form": LayoutForm(initial=layout),
        "encoding_name": ENCODINGS.get(found.encoding, found.encoding),
        "delimiter_name": DELIMITERS.get(found.delimiter, found.delimiter),
        "look": look,
        "error": error,
    }
    return render(request, "capture/table_import.html", context, status=status)
