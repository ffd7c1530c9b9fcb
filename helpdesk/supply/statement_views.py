"""Statements. Permissions: review or produce; letting a marked wording stand, produce."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from helpdesk.cases.models import Case
from helpdesk.core import clock
from helpdesk.core.errors import DeskError, RefusedInputError
from helpdesk.core.http import storable
from helpdesk.supply import overview, statements
from helpdesk.supply.conditions import (
    find_reply,
    is_lost,
    is_on_its_way,
    judge_wording,
    list_needs,
    may_be_shown,
    waits_until,
)
from helpdesk.supply.errors import StaleWordsError
from helpdesk.supply.forms import AskForm, PictureForm, ReplyForm, StatementForm, WordsForm
from helpdesk.supply.models import EvidencePicture, Statement, Way
from helpdesk.supply.remarks import NewRemark
from helpdesk.supply.selectors import list_subjects_of, with_evidence
from helpdesk.supply.statements import Asking
from helpdesk.supply.views import desk_people, producers_only, show_form, user_of


@require_http_methods(["GET", "POST"])
@desk_people
def new_statement(request: HttpRequest, number: int) -> HttpResponseBase:
    """Write down what will be said of somebody on a case."""
    case = get_object_or_404(Case, pk=number)
    named = list_subjects_of(case)
    initial = {"subject": named[0].pk if named else None}
    form = StatementForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        try:
            made = statements.write_statement(
                data["subject"], case, data["text"], actor=user_of(request)
            )
        except RefusedInputError as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, "Written down. See below what it still needs.")
            return redirect(made)
    return show_form(request, form, "supply/statement_form.html", {"case": case})


@require_POST
@desk_people
def nothing_adverse(request: HttpRequest, number: int) -> HttpResponseBase:
    """Keep that nothing adverse will be said on a case."""
    case = get_object_or_404(Case, pk=number)
    try:
        reason = storable(request.POST.get("reason", ""))
        statements.say_nothing_adverse(case, reason, actor=user_of(request))
    except RefusedInputError as error:
        messages.error(request, str(error))
    else:
        messages.success(request, "Kept: nothing adverse will be said on this case.")
    return redirect("supply:case_panel", case.pk)


@require_GET
@desk_people
def statement(request: HttpRequest, statement_id: int) -> HttpResponse:
    """Show a statement with its wording, evidence and right of reply."""
    return render(request, "supply/statement.html", _context(_get(statement_id)))


@require_POST
@desk_people
def change(request: HttpRequest, statement_id: int) -> HttpResponseBase:
    """Change the words of a statement."""
    found = _get(statement_id)
    form = WordsForm(request.POST, auto_id="words-%s")
    if form.is_valid():
        try:
            statements.change_statement(
                found.pk,
                form.cleaned_data["text"],
                version=form.cleaned_data["version"],
                actor=user_of(request),
            )
        except StaleWordsError as error:
            typed = {"text": form.cleaned_data["text"], "version": found.version}
            again = WordsForm(typed, auto_id="words-%s")
            again.add_error("text", f"{error} Yours stand here and are not saved yet.")
            return _refuse(request, found, words_form=again, status=409)
        messages.success(request, "Saved.")
        return redirect(found)
    return _refuse(request, found, words_form=form)


@require_POST
@desk_people
def drop(request: HttpRequest, statement_id: int) -> HttpResponseBase:
    """Take back that a case says something adverse."""
    found = _get(statement_id)
    case = found.case
    try:
        why = storable(request.POST.get("why", ""))
        statements.drop_statement(found, actor=user_of(request), why=why)
    except RefusedInputError as error:
        return _refuse(request, found, refused=str(error))
    messages.success(request, "It will not be said.")
    return redirect(case or found.subject)


@require_POST
@desk_people
def picture(request: HttpRequest, statement_id: int) -> HttpResponseBase:
    """Add a photo that shows what is said."""
    found = _get(statement_id)
    form = PictureForm(request.POST, photos=overview.list_evidence_photos(found))
    if form.is_valid():
        data = form.cleaned_data
        try:
            statements.add_picture(found, data["photo"], data["shows"], actor=user_of(request))
        except RefusedInputError as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, "The picture is kept as evidence.")
            return redirect(found)
    return _refuse(request, found, picture_form=form)


@require_POST
@desk_people
def drop_picture(request: HttpRequest, statement_id: int, picture_id: int) -> HttpResponseBase:
    """Take a picture away from what it was to show."""
    found = get_object_or_404(EvidencePicture, pk=picture_id, statement=statement_id)
    statements.drop_picture(found, actor=user_of(request))
    messages.success(request, "The picture is no longer evidence. The case keeps it.")
    return redirect(found.statement)


@require_POST
@desk_people
def ask(request: HttpRequest, statement_id: int) -> HttpResponseBase:
    """Ask for a reply by a letter, or keep that it was asked for."""
    found = _get(statement_id)
    form = AskForm(request.POST)
    if form.is_valid():
        try:
            asked = statements.ask_reply(found, Asking(**form.cleaned_data), actor=user_of(request))
        except RefusedInputError as error:
            form.add_error("text", str(error))
        else:
            sent = "The letter is on its way" if asked.mail else "Kept as asked"
            until = waits_until(asked)
            messages.success(request, f"{sent}. They may reply until {until.day} {until:%B}.")
            return redirect(found)
    return _refuse(request, found, ask_form=form)


@require_POST
@desk_people
def reply(request: HttpRequest, statement_id: int) -> HttpResponseBase:
    """Keep what was replied."""
    found = _get(statement_id)
    form = ReplyForm(request.POST)
    if form.is_valid():
        statements.record_reply(found, NewRemark(**form.cleaned_data), actor=user_of(request))
        messages.success(request, "The reply is kept, and stands beside the subject.")
        return redirect(found)
    return _refuse(request, found, reply_form=form)


@require_POST
@producers_only
def let_stand(request: HttpRequest, statement_id: int) -> HttpResponseBase:
    """Keep a reason to let a marked wording stand."""
    found = _get(statement_id)
    try:
        statements.let_stand(
            found,
            rule=storable(request.POST.get("rule", "")),
            phrase=storable(request.POST.get("phrase", "")),
            reason=storable(request.POST.get("reason", "")),
            actor=user_of(request),
        )
    except DeskError as error:
        return _refuse(request, found, refused=str(error))
    messages.success(request, "The wording stays, and your reason is kept.")
    return redirect(found)


def _get(statement_id: int) -> Statement:
    return get_object_or_404(with_evidence(Statement.objects.all()), pk=statement_id)


def _refuse(
    request: HttpRequest, found: Statement, *, status: int = 422, **more: Any
) -> HttpResponse:
    context = {**_context(found), **more}
    return render(request, "supply/statement.html", context, status=status)


def _context(found: Statement) -> dict[str, Any]:
    contact = overview.find_contact(found.subject)
    photos = overview.list_evidence_photos(found)
    asking = {
        "way": Way.MAIL if contact.contact_email else Way.FORM,
        "to": contact.contact_email or contact.contact_other or contact.contact_name,
        "text": overview.draft_letter(found),
        "on_date": clock.today(),
    }
    return {
        "statement": found,
        "needs": list_needs(found),
        "parts": overview.split_text(found),
        "hits": judge_wording(found),
        "pictures": [(each, may_be_shown(each)) for each in found.pictures.all()],
        "photos": photos,
        "requests": [
            (each, is_lost(each), is_on_its_way(each), waits_until(each))
            for each in found.requests.all()
        ],
        "replied": find_reply(found),
        "contact": contact,
        "words_form": WordsForm(
            initial={"text": found.text, "version": found.version}, auto_id="words-%s"
        ),
        "picture_form": PictureForm(photos=photos),
        "ask_form": AskForm(initial=asking),
        "reply_form": ReplyForm(initial={"on_date": clock.today()}),
        "tab": "supply",
    }
