"""Bringing captions into the archive."""

import datetime
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.core.exceptions import ValidationError
from django.core.validators import URLValidator
from django.db import transaction

from helpdesk.accounts.models import User
from helpdesk.archive import engine
from helpdesk.archive.cutting import Draft, keep_corrections, lay_out, pin_case
from helpdesk.archive.errors import CaptionsRefusedError
from helpdesk.archive.indexing import index_archived
from helpdesk.archive.models import (
    TITLE_CHARS,
    ArchivedShow,
    CaptionFile,
    CaptionUpload,
    UploadState,
)
from helpdesk.archive.naming import LARGEST_NUMBER, number_from_name
from helpdesk.archive.planning import find_plan, list_shown
from helpdesk.archive.segments import drafts_of, read_suspects, store_segments
from helpdesk.archive.values import CueLine, ReadFile
from helpdesk.core import clock
from helpdesk.core.fields import WEB_SCHEMES
from helpdesk.core.http import storable
from helpdesk.core.jobs import start_job
from helpdesk.core.storage import clean_label
from helpdesk.episodes.models import Episode
from helpdesk.search.spoken_index import drop_show

LABEL_CHARS = 120
MOST_CUES = 20_000  # an hour of speech has about 1,200
MAX_BYTES = 32 * 1024 * 1024  # an hour of captions is about 100 kB, with times of words 1 MB


@dataclass(frozen=True, kw_only=True)
class ShowFacts:
    """What is said of a show beside its captions; empty where nobody said anything."""

    title: str = ""
    on_date: datetime.date | None = None
    link: str = ""


@dataclass(frozen=True)
class Imported:
    """A show after an import, and what the import did: "new", "replaced" or "unchanged"."""

    show: ArchivedShow
    what: str


def import_captions(
    raw: bytes, *, number: int, label: str, facts: ShowFacts | None = None, by: User | None = None
) -> Imported:
    """Read a file of captions, cut it into segments and put it into archive and index.

    The same file again changes nothing but what `facts` says. A new version takes the place of the
    old one; where somebody corrected segments, those stand as far as their words are still there.
    All of it happens or nothing.

    Raises
    ------
    CaptionsRefusedError
        If the file or the number cannot be used.
    """
    if not 0 < number <= LARGEST_NUMBER:
        raise CaptionsRefusedError(f"An episode’s number is 1 to {LARGEST_NUMBER}, not {number}.")
    check_size(len(raw))
    _check_link(facts.link if facts else "")
    sha256 = hashlib.sha256(raw).hexdigest()
    is_known = CaptionFile.objects.filter(show__number=number, sha256=sha256).exists()
    if is_known:
        with transaction.atomic():
            show = _note_facts(number, facts or ShowFacts())
            return Imported(show, "unchanged")
    read = engine.read_file(raw)
    if len(read.cues) > MOST_CUES:
        raise CaptionsRefusedError(
            f"The file has {len(read.cues)} cues; one show may have {MOST_CUES}, which is about a "
            "day. Split it into its shows."
        )
    cues = [replace(c, text=storable(c.text), speaker=storable(c.speaker)) for c in read.cues]
    plan = find_plan(number)
    cut = engine.cut(cues, [planned.part for planned in plan])
    drafts = lay_out(cues, cut, [planned.case_id for planned in plan])
    if not plan:  # an older show: where its cases begin may be known all the same
        last_s = max(cue.end_s for cue in cues)
        for shown in list_shown(number):
            if shown.second > last_s:  # of another recording than these captions
                continue
            drafts = pin_case(drafts, cues, shown.second, shown.case_id, shown.title)
    # Reading takes a while, the first time above all: not while the database is held.
    drafts = read_suspects(drafts, cues)
    with transaction.atomic():
        show = _note_facts(number, facts or ShowFacts())
        return Imported(show, _replace(show, read, cues, drafts, (label, sha256), by))


@transaction.atomic
def change_facts(show: ArchivedShow, facts: ShowFacts) -> ArchivedShow:
    """Change a show's title, date and link, here and in the index."""
    show = ArchivedShow.objects.select_for_update().get(pk=show.pk)
    show.title, show.on_date, show.link = facts.title, facts.on_date, facts.link
    show.save(update_fields=["title", "on_date", "link"])
    index_archived(show)
    return show


@transaction.atomic
def remove_show(show: ArchivedShow) -> None:
    """Take a show out of archive and index, for instance one that came under a wrong number."""
    drop_show(show.number)
    show.delete()


@transaction.atomic
def receive_upload(
    raw: bytes, *, label: str, number: int | None = None, by: User | None = None
) -> CaptionUpload:
    """Keep a file that came by the page, to be read in the background.

    One whose number cannot be told, or that is too large, is refused at once and says why.
    """
    upload = CaptionUpload(
        label=clean_label(label, limit=LABEL_CHARS), made_at=clock.now(), made_by=by
    )
    try:
        check_size(len(raw))
        upload.number = number or number_from_name(label)
        upload.raw = raw
    except CaptionsRefusedError as error:
        upload.state, upload.why = UploadState.REFUSED, str(error)
    upload.save()
    if upload.state == UploadState.WAITING:
        key = f"import-captions:{upload.pk}"
        start_job("import-captions", key=key, payload={"upload": upload.pk})
    return upload


def take_upload(upload_id: int) -> None:
    """Import a kept upload, or refuse it with the reason; safe to run twice."""
    upload = CaptionUpload.objects.filter(pk=upload_id, state=UploadState.WAITING).first()
    if upload is None or upload.raw is None or upload.number is None:
        return
    state, why = UploadState.DONE, ""
    try:
        done = import_captions(
            bytes(upload.raw), number=upload.number, label=upload.label, by=upload.made_by
        )
        if done.what == "unchanged":
            state = UploadState.KNOWN
    except CaptionsRefusedError as error:
        state, why = UploadState.REFUSED, str(error)
    CaptionUpload.objects.filter(pk=upload_id).update(state=state, why=why, raw=None)


def check_size(size: int) -> None:
    """Refuse a file that is larger than captions ever are.

    Raises
    ------
    CaptionsRefusedError
        With size and limit.
    """
    if size > MAX_BYTES:
        said = f"{size / 1024**2:.0f} MB; captions may have {MAX_BYTES // 1024**2} MB at most"
        raise CaptionsRefusedError(f"The file has {said}.")


def _check_link(link: str) -> None:
    """Refuse what is no address of a web page: it would stand as a link on the desk's pages."""
    try:
        if link:
            URLValidator(schemes=WEB_SCHEMES)(link)
    except ValidationError as error:
        raise CaptionsRefusedError(f"“{link}” is no address beginning with https://.") from error


def _note_facts(number: int, facts: ShowFacts) -> ArchivedShow:
    """Return the show, made where it is new, with what is said of it now."""
    show = ArchivedShow.objects.select_for_update().filter(number=number).first()
    known = Episode.objects.filter(number=number).first()
    if show is None:
        show = ArchivedShow(number=number, title=known.title if known else f"Episode {number}")
    before = (show.title, show.on_date, show.link)
    show.title = (facts.title or show.title)[:TITLE_CHARS]
    began = (known.on_air_at or known.starts_at).date() if known else None
    show.on_date = facts.on_date or show.on_date or began
    show.link = facts.link or show.link or (known.link if known else "")
    if show._state.adding or before != (show.title, show.on_date, show.link):
        show.save()
        index_archived(show)
    return show


def _replace(
    show: ArchivedShow,
    read: ReadFile,
    cues: Sequence[CueLine],
    drafts: list[Draft],
    file: tuple[str, str],
    by: User | None,
) -> str:
    """Write captions and segments in place of those there are; return what that was."""
    label, sha256 = file
    old = CaptionFile.objects.filter(show=show).first()
    if old is not None:
        before = [CueLine(*cue) for cue in old.cues]
        kept = keep_corrections(drafts, cues, _list_stood(show), before)
        drafts = read_suspects(kept, cues)  # of those that were put in or cut short
    CaptionFile.objects.update_or_create(
        show=show,
        defaults={
            "label": clean_label(label, limit=LABEL_CHARS),
            "sha256": sha256,
            "file_format": read.file_format,
            "encoding": read.encoding,
            "is_automatic": read.is_automatic,
            "is_mixed": read.is_mixed,
            "remarks": list(read.remarks),
            "cues": [[cue.start_s, cue.end_s, cue.text, cue.speaker] for cue in cues],
            "cue_count": len(cues),
            "duration_s": max(cue.end_s for cue in cues),
            "imported_at": clock.now(),
            "imported_by": by,
        },
    )
    show.changes.all().delete()  # they speak of cues that are gone
    show.version += 1
    show.checked_at, show.checked_by = None, None  # nobody has looked at this cut yet
    show.save(update_fields=["version", "checked_at", "checked_by"])
    store_segments(show, drafts, cues)
    index_archived(show)
    return "new" if old is None else "replaced"


def _list_stood(show: ArchivedShow) -> list[Draft]:
    """Return the segments; where all were found right, each counts as one a person corrected."""
    drafts = drafts_of(show)
    if show.checked_at is None:
        return drafts
    return [
        draft
        if draft.corrected_at
        else replace(draft, corrected_at=show.checked_at, corrected_by_id=show.checked_by_id)
        for draft in drafts
    ]
