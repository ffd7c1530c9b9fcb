"""Everything that changes photos. Files and rows are kept in step: see core.storage."""

import datetime
from collections.abc import Iterable, Mapping
from typing import IO, Any, cast

from django.core.files.base import ContentFile, File
from django.db import transaction
from django.db.models import Max

from helpdesk.cases.models import Case
from helpdesk.cases.services import record_event, request_comparison
from helpdesk.core import clock
from helpdesk.core.errors import RefusedInputError
from helpdesk.core.jobs import start_job
from helpdesk.core.storage import (
    clean_label,
    delete_files,
    delete_now,
    named,
    new_name,
    purge_strays,
    sum_of,
)
from helpdesk.photos.images import HEAD_BYTES, check_image, redraw, tell_format
from helpdesk.photos.limits import (
    ALT_TEXT_CHARS,
    LABEL_CHARS,
    MAX_BYTES,
    MAX_BYTES_WORDS,
    MAX_CASE_PHOTOS,
    MAX_PHOTOS,
)
from helpdesk.photos.models import Photo, PhotoState, photo_storage
from helpdesk.photos.uploads import OversizeFile

DRAFT_LIFE = datetime.timedelta(hours=24)
ENDINGS = {"JPEG": "jpg", "PNG": "png", "WEBP": "webp", "HEIC": "heic"}
UNNAMED = "photo"


def receive_photo(
    file: "File[bytes]",
    *,
    label: str,
    draft_key: str = "",
    case: Case | None = None,
    alt_text: str = "",
    keeps_original: bool = False,
    from_follow_up: bool = False,
) -> Photo:
    """Keep a photo that any channel brought, for a draft or a case, and plan its renditions.

    The same file twice is the same photo. Raises RefusedInputError with a sentence that says what
    to do.
    """
    label = clean_label(label, limit=LABEL_CHARS, unnamed=UNNAMED)
    format_name, width, height = _check_file(file, label)
    sha256 = sum_of(file)
    storage = photo_storage()
    file.seek(0)
    name = storage.save(new_name(ENDINGS[format_name]), file)
    try:
        photo, is_new = _add_row(
            Photo(
                case=case,
                draft_key="" if case else draft_key,
                label=label,
                alt_text=alt_text[:ALT_TEXT_CHARS],
                format=format_name,
                size_bytes=file.size,
                sha256=sha256,
                width=width,
                height=height,
                keeps_original=keeps_original,
                original=name,
                received_at=clock.now(),
                from_follow_up=from_follow_up,
            )
        )
    except BaseException:  # whatever happened, no file may stay without its row
        storage.delete(name)
        raise
    if not is_new:
        storage.delete(name)
    return photo


@transaction.atomic
def attach_draft(
    draft_key: str, case: Case, *, keeps_original: bool = False, from_follow_up: bool = False
) -> list[Photo]:
    """Give the photos of an unsent form to its case; return them in order.

    Originals of photos already prepared are deleted unless the person wants them kept. Raises
    RefusedInputError, with the form's photos as they were, when the case would have too many.
    """
    if not draft_key:
        return []
    drafts = list(Photo.objects.select_for_update().filter(draft_key=draft_key, case__isnull=True))
    last = case.photos.aggregate(last=Max("position"))["last"] or 0
    known = set(case.photos.values_list("sha256", flat=True))  # a form sent twice brings them again
    fresh = [
        photo
        for sha256, photo in {photo.sha256: photo for photo in reversed(drafts)}.items()
        if sha256 not in known
    ][::-1]
    room = MAX_CASE_PHOTOS - len(known)
    if len(fresh) > room:
        raise RefusedInputError(
            f"We keep {MAX_CASE_PHOTOS} photos of one print, and there is room for {max(room, 0)} "
            "more. Please remove some of the new ones."
        )
    for place, photo in enumerate(fresh, start=last + 1):
        photo.case = case
        photo.draft_key = ""
        photo.position = place
        photo.keeps_original = keeps_original
        photo.from_follow_up = from_follow_up
        photo.save()
        _drop_unwanted_original(photo)
        _have_compared(photo)
    for photo in drafts:
        if photo not in fresh:
            remove_photo(photo)
    return fresh


@transaction.atomic
def describe_photos(photos: Iterable[Photo], alt_texts: Mapping[int, str]) -> None:
    """Save what each photo shows, in the person's words."""
    for photo in photos:
        words = alt_texts.get(photo.pk)
        if words is not None and words[:ALT_TEXT_CHARS] != photo.alt_text:
            photo.alt_text = words[:ALT_TEXT_CHARS]
            photo.save(update_fields=["alt_text"])


@transaction.atomic
def remove_photo(photo: Photo) -> None:
    """Remove a photo with all its files."""
    delete_files(photo_storage(), [photo.original.name, photo.web.name, photo.thumb.name])
    photo.delete()


@transaction.atomic
def erase_photos(case: Case) -> int:
    """Remove every photo of a case with all its files; return how many."""
    photos = list(case.photos.all())
    for photo in photos:
        remove_photo(photo)
    return len(photos)


def purge_stale_drafts() -> int:
    """Remove photos of forms that were never sent; return how many."""
    before = clock.now() - DRAFT_LIFE
    stale = list(Photo.objects.filter(case__isnull=True, received_at__lt=before)[:500])
    for photo in stale:
        remove_photo(photo)
    return len(stale)


def purge_stray_files() -> int:
    """Delete old files that no photo names, in one of the folders; return how many."""
    return purge_strays(photo_storage(), _find_named)


def _find_named(names: set[str]) -> set[str]:
    """Return those of the names that a photo's row holds."""
    found: set[str] = set()
    for field in ("original", "web", "thumb"):
        rows = Photo.objects.filter(**{f"{field}__in": names})
        found.update(rows.values_list(field, flat=True))
    return found


def prepare_photo(photo_id: int) -> None:
    """Make a photo's renditions; safe to run twice.

    A picture that cannot be decoded is marked as refused, with a sentence for person and reviewer.
    """
    photo = Photo.objects.filter(pk=photo_id, state=PhotoState.WAITING).first()
    if photo is None:  # removed meanwhile, or done before a crash
        return
    with photo_storage().open(str(photo.original.name)) as file:
        data = file.read()
    try:
        page, thumb = redraw(data, photo.format)
    except RefusedInputError as error:
        _refuse(photo_id, f"{named(photo.label)} {error}")
        return
    storage = photo_storage()
    made = [
        storage.save(new_name("jpg"), ContentFile(rendition.data)) for rendition in (page, thumb)
    ]
    try:
        is_kept = _mark_ready(photo_id, web=made[0], thumb=made[1], size=(page.width, page.height))
    except BaseException:  # the job runs again and makes new ones
        delete_now(storage, made)
        raise
    if not is_kept:
        delete_now(storage, made)


def _check_file(file: "File[bytes]", label: str) -> tuple[str, int, int]:
    """Return format, width and height of a file that is a photo the desk takes."""
    name = named(label)
    if isinstance(file, OversizeFile) or file.size > MAX_BYTES:
        raise RefusedInputError(
            f"{name} is larger than {MAX_BYTES_WORDS}. Please send a smaller copy of it."
        )
    if not file.size:
        raise RefusedInputError(f"{name} is empty. Please choose it again or remove it.")
    file.seek(0)
    format_name = tell_format(file.read(HEAD_BYTES))
    if not format_name:
        raise RefusedInputError(
            f"{name} is not a photo we can read. Please send a JPEG, PNG, WebP or HEIC file."
        )
    try:
        width, height = check_image(cast("IO[bytes]", file), format_name)
    except RefusedInputError as error:
        raise RefusedInputError(f"{name} {error}") from error
    return format_name, width, height


@transaction.atomic
def _add_row(photo: Photo) -> tuple[Photo, bool]:
    """Save a photo's row unless the same file is there; refuses one photo too many."""
    owner: dict[str, Any] = (
        {"case": photo.case} if photo.case else {"draft_key": photo.draft_key, "case": None}
    )
    there = Photo.objects.filter(**owner)
    known = there.filter(sha256=photo.sha256).exclude(state=PhotoState.REFUSED).first()
    if known:
        return known, False
    if there.filter(from_follow_up=photo.from_follow_up).count() >= MAX_PHOTOS:
        raise RefusedInputError(
            f"{named(photo.label)} is one too many: we take {MAX_PHOTOS} photos at a time. "
            "Please remove another one first."
        )
    photo.position = (there.aggregate(last=Max("position"))["last"] or 0) + 1
    photo.save()
    start_job("prepare-photo", key=f"prepare-photo:{photo.pk}", payload={"photo": photo.pk})
    return photo, True


@transaction.atomic
def _mark_ready(photo_id: int, *, web: str, thumb: str, size: tuple[int, int]) -> bool:
    """Name the renditions in the photo's row; False when the row is gone or already done."""
    photo = Photo.objects.select_for_update().filter(pk=photo_id, state=PhotoState.WAITING).first()
    if photo is None:
        return False
    photo.web.name = web
    photo.thumb.name = thumb
    photo.width, photo.height = size
    photo.state = PhotoState.READY
    photo.save()
    _drop_unwanted_original(photo)
    _have_compared(photo)
    return True


def _have_compared(photo: Photo) -> None:
    """Ask for a case to be compared with others once one more of its photos can be seen."""
    if photo.case and photo.state == PhotoState.READY:
        request_comparison(photo.case, key=f"photo:{photo.pk}")


@transaction.atomic
def _refuse(photo_id: int, why: str) -> None:
    """Note that a photo cannot be read and remove its file, which is of no use to anybody."""
    photo = Photo.objects.select_for_update().filter(pk=photo_id).first()
    if photo is None:
        return
    delete_files(photo_storage(), [photo.original.name])
    photo.original.name = ""
    photo.state = PhotoState.REFUSED
    photo.refusal = why[:200]
    photo.save()
    if photo.case:
        record_event(photo.case, kind="photo", what="A photo could not be read", why=why)


def _drop_unwanted_original(photo: Photo) -> None:
    """Delete the file as sent once it is not needed, unless the person wants it kept.

    A draft's original stays until the form is sent, for only then it is known what is wanted.
    """
    is_needed = photo.state == PhotoState.WAITING or photo.case_id is None or photo.keeps_original
    if is_needed or not photo.original:
        return
    delete_files(photo_storage(), [photo.original.name])
    photo.original.name = ""
    photo.save(update_fields=["original"])
