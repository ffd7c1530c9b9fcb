"""Photos are received, prepared, given to a case and removed, with their files."""

import datetime
from typing import Any

import pytest
from django.core.files.base import ContentFile

from helpdesk.core import clock
from helpdesk.core import storage as storage_rules
from helpdesk.core.errors import RefusedInputError
from helpdesk.core.jobs import run_due_jobs
from helpdesk.core.models import Job
from helpdesk.photos import selectors, services
from helpdesk.photos.limits import MAX_BYTES
from helpdesk.photos.models import Photo, PhotoState, photo_storage
from helpdesk.photos.uploads import OversizeFile
from tests.factories import make_case
from tests.helpdesk.pictures import draw_noise, draw_picture, picture_bytes, upload

pytestmark = pytest.mark.django_db
KEY = "draft-key-of-a-form-0001"


def receive(data: bytes | None = None, *, label: str = "IMG_0410.jpg", **owner: Any) -> Photo:
    """Receive a photo for a draft, or for what the keyword arguments name."""
    return services.receive_photo(upload(data), label=label, **(owner or {"draft_key": KEY}))


def stored(photo: Photo) -> set[str]:
    """Return the names of a photo's files that are in the storage."""
    names = (photo.original.name, photo.web.name, photo.thumb.name)
    return {name for name in names if name and photo_storage().exists(name)}


def is_stored(name: str | None) -> bool:
    """Return True when a file of this name is in the storage."""
    return bool(name) and photo_storage().exists(str(name))


def test_receive_photo_keeps_file_and_plans_renditions():
    """A sound photo is stored under a made-up name and waits for the worker."""
    photo = receive(picture_bytes(draw_picture(64, 48)))

    assert photo.state == PhotoState.WAITING
    assert (photo.format, photo.width, photo.height) == ("JPEG", 64, 48)
    assert "IMG" not in str(photo.original.name)
    assert stored(photo) == {photo.original.name}
    assert Job.objects.get(key=f"prepare-photo:{photo.pk}").payload == {"photo": photo.pk}


def test_receive_photo_believes_bytes_not_names():
    """A PNG called .jpg is a PNG, and one called .exe too."""
    assert receive(picture_bytes(format_name="PNG"), label="a.jpg").format == "PNG"
    assert receive(picture_bytes(format_name="WEBP"), label="b.php%00.exe").format == "WEBP"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty"),
        (b"GIF89a" + b"\0" * 100, "is not a photo we can read"),
        (b"<svg onload='alert(1)'></svg>", "is not a photo we can read"),
        (b"\xff\xd8\xff\xe0 this is no picture", "is damaged"),
        (picture_bytes(draw_noise(640, 480))[:9000], "is damaged"),
    ],
)
def test_receive_photo_refuses_with_a_sentence(data, words):
    """What is no photo leaves neither row nor file, and the sentence names it."""
    with pytest.raises(RefusedInputError, match=rf"^“IMG_0412\.jpg” {words}.*\. ?.*\.$"):
        receive(data, label="IMG_0412.jpg")

    assert not Photo.objects.exists()


def test_receive_photo_refuses_a_file_over_the_limit():
    """One byte more than 25 MB is too much, told from the size alone."""
    file = ContentFile(b"\xff\xd8\xff")
    file.size = MAX_BYTES + 1

    with pytest.raises(RefusedInputError, match=r"larger than 25 MB\. Please send a smaller copy"):
        services.receive_photo(file, label="big.jpg", draft_key=KEY)


def test_receive_photo_refuses_the_stand_in_of_an_oversized_upload():
    """A file that was cut off while it arrived is refused as too large."""
    with pytest.raises(RefusedInputError, match="larger than 25 MB"):
        services.receive_photo(
            OversizeFile(name="big.jpg", size=MAX_BYTES + 5), label="big.jpg", draft_key=KEY
        )


def test_receive_photo_refuses_the_thirteenth():
    """Twelve are taken; the next is refused with what to do."""
    for number in range(12):
        receive(picture_bytes(draw_picture(40 + number, 30)))

    with pytest.raises(RefusedInputError, match="one too many: we take 12 photos"):
        receive(picture_bytes(draw_picture(90, 30)))

    assert len(selectors.list_draft(KEY)) == 12


def test_receive_photo_twice_is_the_same_photo():
    """A file that arrives again, after a lost answer, makes no second photo and no stray file."""
    data = picture_bytes()

    first, second = receive(data), receive(data)

    assert first.pk == second.pk
    assert second.original.name == first.original.name


def test_prepare_photo_makes_renditions_and_drops_the_original():
    """After preparation a case's photo has two renditions and no file as sent."""
    case = make_case()
    photo = receive(picture_bytes(draw_noise(2000, 1500)), case=case)

    run_due_jobs()

    photo.refresh_from_db()
    assert photo.state == PhotoState.READY
    assert (photo.width, photo.height) == (1600, 1200)
    assert stored(photo) == {photo.web.name, photo.thumb.name}


def test_prepare_photo_deletes_the_original_file(django_capture_on_commit_callbacks):
    """The file as sent is gone from the storage, not only from the row."""
    photo = receive(case=make_case())
    original = photo.original.name

    with django_capture_on_commit_callbacks(execute=True):
        services.prepare_photo(photo.pk)

    assert not is_stored(original)


def test_prepare_photo_keeps_the_original_if_wanted():
    """With the person's agreement the file as sent stays, privately."""
    photo = receive(case=make_case(), keeps_original=True)

    services.prepare_photo(photo.pk)

    photo.refresh_from_db()
    assert len(stored(photo)) == 3


def test_prepare_photo_twice_changes_nothing():
    """A job that runs again after a crash makes no second set of files."""
    photo = receive(case=make_case())
    services.prepare_photo(photo.pk)
    photo.refresh_from_db()
    names = (photo.web.name, photo.thumb.name)

    services.prepare_photo(photo.pk)

    photo.refresh_from_db()
    assert (photo.web.name, photo.thumb.name) == names


def test_prepare_photo_of_a_removed_photo_does_nothing():
    """A photo removed before its job runs is no fault."""
    services.prepare_photo(4711)

    assert not Photo.objects.exists()


def test_prepare_photo_refuses_an_unreadable_heic(django_capture_on_commit_callbacks):
    """A broken HEIC becomes a refused photo with a sentence, its file deleted, the case told."""
    case = make_case()
    photo = receive(picture_bytes(draw_noise(640, 480), "HEIF")[:-3000], case=case)
    original = photo.original.name

    with django_capture_on_commit_callbacks(execute=True):
        services.prepare_photo(photo.pk)

    photo.refresh_from_db()
    assert photo.state == PhotoState.REFUSED
    assert photo.refusal.startswith("“IMG_0410.jpg” is damaged")
    assert not is_stored(original)
    assert selectors.list_photos(case) == []
    assert selectors.list_refused(case) == [photo]
    assert case.events.filter(kind="photo").exists()


def test_attach_draft_moves_photos_in_order():
    """A form's photos become the case's, numbered from one."""
    case = make_case()
    for number in range(3):
        receive(picture_bytes(draw_picture(40 + number, 30)), label=f"{number}.jpg")

    services.attach_draft(KEY, case)

    assert [(p.label, p.position) for p in selectors.list_photos(case)] == [
        ("0.jpg", 1),
        ("1.jpg", 2),
        ("2.jpg", 3),
    ]
    assert services.attach_draft(KEY, case) == []


def test_attach_draft_drops_originals_only_without_agreement(django_capture_on_commit_callbacks):
    """A draft's original waits for the form; then the person's choice decides."""
    kept, dropped = receive(), receive(draft_key="draft-key-of-a-form-0002")
    for photo in (kept, dropped):
        services.prepare_photo(photo.pk)
        photo.refresh_from_db()
        assert photo.original

    with django_capture_on_commit_callbacks(execute=True):
        services.attach_draft(KEY, make_case(), keeps_original=True)
        services.attach_draft("draft-key-of-a-form-0002", make_case(), keeps_original=False)

    assert len(stored(Photo.objects.get(pk=kept.pk))) == 3
    assert stored(Photo.objects.get(pk=dropped.pk)) == {
        Photo.objects.get(pk=dropped.pk).web.name,
        Photo.objects.get(pk=dropped.pk).thumb.name,
    }
    assert not is_stored(dropped.original.name)


def test_erase_photos_leaves_no_file(django_capture_on_commit_callbacks):
    """Erasing removes rows, renditions and the kept original."""
    case = make_case()
    photo = receive(case=case, keeps_original=True)
    services.prepare_photo(photo.pk)
    photo.refresh_from_db()
    assert len(stored(photo)) == 3

    with django_capture_on_commit_callbacks(execute=True):
        assert services.erase_photos(case) == 1

    assert stored(photo) == set()
    assert not Photo.objects.exists()


def test_purge_stale_drafts_spares_fresh_ones_and_cases(monkeypatch):
    """Only photos of forms that were not sent for a day are removed."""
    case_photo, fresh = receive(case=make_case()), receive()
    stale = receive(draft_key="draft-key-of-a-form-0002")
    Photo.objects.filter(pk__in=[stale.pk, case_photo.pk]).update(
        received_at=clock.now() - datetime.timedelta(hours=25)
    )

    assert services.purge_stale_drafts() == 1

    assert set(Photo.objects.values_list("pk", flat=True)) == {case_photo.pk, fresh.pk}


def test_describe_photos_saves_words():
    """The person's description is kept, cut to its limit."""
    photo = receive()

    services.describe_photos([photo], {photo.pk: "The rook from the front" + "x" * 400})

    photo.refresh_from_db()
    assert photo.alt_text.startswith("The rook from the front")
    assert len(photo.alt_text) == 300


def test_list_covers_takes_one_query(django_assert_num_queries):
    """The queue gets the first ready photo of each case at once."""
    cases = [make_case(), make_case(), make_case()]
    for case in cases[:2]:
        for number in range(2):
            photo = receive(picture_bytes(draw_picture(40 + number, 30)), case=case)
            services.prepare_photo(photo.pk)

    with django_assert_num_queries(1):
        covers = selectors.list_covers([case.pk for case in cases])

    assert {case_id: photo.position for case_id, photo in covers.items()} == {
        cases[0].pk: 1,
        cases[1].pk: 1,
    }


def test_attach_draft_keeps_one_of_two_copies():
    """Two posts at once may bring a file twice; the case gets it once, and no file is left over."""
    case = make_case()
    first = receive()
    Photo.objects.create(
        draft_key=KEY,
        label="again.jpg",
        format="JPEG",
        size_bytes=1,
        sha256=first.sha256,
        original="xx/again.jpg",
        position=2,
        received_at=clock.now(),
    )

    services.attach_draft(KEY, case)

    assert [photo.pk for photo in case.photos.all()] == [first.pk]
    assert Photo.objects.count() == 1


def test_purge_stray_files_removes_old_files_no_row_names():
    """A file left by a killed process goes after a day; files of photos stay."""
    photo = receive()
    services.prepare_photo(photo.pk)
    photo.refresh_from_db()
    kept = stored(photo)
    storage = photo_storage()
    stray = [storage.save(f"{name[:2]}/stray.jpg", ContentFile(b"x")) for name in sorted(kept)]
    now = clock.now()

    def sweep(days: int) -> int:
        """Let two days' rounds run from so many days on."""
        rounds = range(storage_rules.FOLDERS)
        moments = (
            now + datetime.timedelta(days=days, seconds=storage_rules.ROUND_S * number)
            for number in rounds
        )
        removed = 0
        for moment in moments:
            with clock.standing_at(moment):
                removed += services.purge_stray_files()
        return removed

    assert sweep(-3) == 0
    assert all(storage.exists(name) for name in stray)
    assert sweep(2) >= len(stray)  # other tests leave files in this storage, too
    assert not any(storage.exists(name) for name in stray)
    assert stored(photo) == kept
