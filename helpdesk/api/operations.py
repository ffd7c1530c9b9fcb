"""What a program can do through the API: each operation with its description."""

from http import HTTPStatus
from typing import Any

from helpdesk.api.door import FORM, JSON, POSTS, Call, Operation
from helpdesk.api.errors import ERASED, NO_NOTE, NOT_FOUND, ProblemError
from helpdesk.api.keys import Result
from helpdesk.api.models import CaseRef, ChannelToken, Scope
from helpdesk.api.refs import find_link
from helpdesk.api.selectors import describe_case, find_case, list_events, search_library
from helpdesk.api.services import note_heard, send_outcome, send_reply, send_report, take_note
from helpdesk.api.uploads import keep_upload
from helpdesk.core.errors import RefusedInputError
from helpdesk.incoming.notes import read_note
from helpdesk.incoming.values import Kept

PLACE = {"type": "string", "pattern": r"^[0-9]{1,18}$"}


def _upload(call: Call) -> Result:
    row = keep_upload(call.token, call.data["file"], alt_text=call.data.get("alt_text", ""))
    return Result(
        HTTPStatus.CREATED,
        {
            "id": row.public_id,
            "label": row.label,
            "size_bytes": row.size_bytes,
            "expires_at": row.expires_at.isoformat(),
        },
    )


def _report(call: Call) -> Result:
    row, kept = send_report(call.token, call.data, key=call.key)
    return Result(HTTPStatus.CREATED, _taken(row, kept), row.case)


def _reply(call: Call) -> Result:
    row = _case_of(call)
    kept = send_reply(row, call.data, key=call.key)
    return Result(HTTPStatus.CREATED, _taken(row, kept), row.case)


def _outcome(call: Call) -> Result:
    row = _case_of(call)
    send_outcome(row, call.data)
    return Result(HTTPStatus.CREATED, _taken(row, Kept()), row.case)


def _case(call: Call) -> Result:
    row = _case_of(call)
    return Result(HTTPStatus.OK, describe_case(row, link=_link_of(call.token, row)), row.case)


def _events(call: Call) -> Result:
    after = int(call.query.get("after", 0))
    page = list_events(call.token, after=after)
    note_heard(call.token, after)
    return Result(HTTPStatus.OK, {"events": page.events, "next": str(page.last)})


def _answers(call: Call) -> Result:
    after = call.query.get("after")
    found = search_library(call.query.get("q", ""), before=int(after) if after else None)
    return Result(HTTPStatus.OK, found)


def _inbox(call: Call) -> Result:
    try:
        note = read_note(call.data)
    except RefusedInputError as error:
        raise ProblemError(NO_NOTE, str(error)) from error
    taken = take_note(call.token, note)
    status = HTTPStatus.CREATED if taken.is_new else HTTPStatus.OK
    return Result(status, _taken(taken.row, Kept(), state=taken.case.state), taken.case)


def _case_of(call: Call) -> CaseRef:
    """Return the case an address names; raises ProblemError when it is not this program's."""
    row = find_case(call.token, call.path["ref"])
    if row is None:
        raise ProblemError(NOT_FOUND, "No case of this token has this reference.")
    if row.case.erased_at:
        raise ProblemError(ERASED, "The case was erased.")
    return row


def _link_of(token: ChannelToken, row: CaseRef | None) -> str | None:
    return find_link(row) if row and token.may(Scope.LINK_READ) else None


def _taken(row: CaseRef | None, kept: Kept, *, state: str = "") -> dict[str, Any]:
    """Return what is said of a thing taken; the private link is no part of what is stored."""
    if row:
        row.case.refresh_from_db()
    return {
        "ref": row.ref if row else None,
        "state": row.case.state if row else state,
        "kept": {"photos": kept.photos, "files": kept.files, "refused": list(kept.refusals)},
    }


def _with_link(token: ChannelToken, result: Result) -> dict[str, Any]:
    """Return an answer with the private link, which is made anew each time."""
    ref = result.body["ref"]
    row = find_case(token, ref) if ref else None
    return {**result.body, "link": _link_of(token, row)}


OPERATIONS = (
    Operation(
        name="upload",
        method="POST",
        path="/uploads",
        scope=Scope.REPORT_WRITE,
        summary="Send a picture or file ahead; its id may be used in one report or reply within 24 "
        "hours.",
        run=_upload,
        body="Upload",
        media=(FORM,),
        answers={201: "Uploaded"},
    ),
    Operation(
        name="sendReport",
        method="POST",
        path="/reports",
        scope=Scope.REPORT_WRITE,
        summary="Send a report; the desk opens a case for it.",
        run=_report,
        body="Report",
        answers={201: "Taken"},
        needs_key=True,
        finish=_with_link,
    ),
    Operation(
        name="readCase",
        method="GET",
        path="/cases/{ref}",
        scope=Scope.CASE_READ,
        summary="Read a case that came by this token.",
        run=_case,
        answers={200: "Case"},
    ),
    Operation(
        name="sendReply",
        method="POST",
        path="/cases/{ref}/replies",
        scope=Scope.REPLY_WRITE,
        summary="Add a reply to a case that came by this token.",
        run=_reply,
        body="Reply",
        answers={201: "Taken"},
        needs_key=True,
        finish=_with_link,
    ),
    Operation(
        name="tellOutcome",
        method="POST",
        path="/cases/{ref}/outcome",
        scope=Scope.OUTCOME_WRITE,
        summary="Tell what became of the print, once the desk has answered.",
        run=_outcome,
        body="Outcome",
        answers={201: "Taken"},
        needs_key=True,
        finish=_with_link,
    ),
    Operation(
        name="listEvents",
        method="GET",
        path="/events",
        scope=Scope.EVENT_READ,
        summary="Read what happened to the cases of this token, oldest first; each is told some "
        "seconds after it happened.",
        run=_events,
        query={"after": PLACE},
        answers={200: "Events"},
    ),
    Operation(
        name="searchAnswers",
        method="GET",
        path="/answers",
        scope=Scope.LIBRARY_READ,
        summary="Search the published answers; all words must be there.",
        run=_answers,
        query={"q": {"type": "string", "maxLength": 200}, "after": PLACE},
        answers={200: "Library"},
    ),
    Operation(
        name="postNote",
        method="POST",
        path="/inbox",
        scope=Scope.REPORT_WRITE,
        summary="Post a mention as ActivityStreams 2.0. The same post twice is one case (200); a "
        "reply to a post of a case goes to that case.",
        run=_inbox,
        body="Note",
        media=(*POSTS, JSON),
        answers={200: "Taken", 201: "Taken"},
        more_problems=(HTTPStatus.GONE,),
        finish=_with_link,
    ),
)
PATHS = tuple(dict.fromkeys(operation.path for operation in OPERATIONS))


def operations_at(path: str) -> list[Operation]:
    """Return the operations of one address."""
    return [operation for operation in OPERATIONS if operation.path == path]
