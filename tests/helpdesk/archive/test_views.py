"""The pages of the archive, with htmx and without."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from helpdesk.archive import corrections, selectors
from helpdesk.archive.models import ArchivedShow, CaptionUpload
from helpdesk.archive.services import ShowFacts, import_captions
from helpdesk.archive.values import CueLine
from helpdesk.core.jobs import run_due_jobs
from helpdesk.search.spoken import find_spoken
from tests.helpdesk.archive.shows import vtt

pytestmark = pytest.mark.django_db


@pytest.fixture
def show(producer):
    """Return a show of two segments: up to 70 s, and from there."""
    facts = ShowFacts(title="Plates", link="https://stream.marrowlane.example/7")
    found = import_captions(vtt(), number=7, label="7.vtt", facts=facts).show
    while found.segments.count() > 1:
        found = corrections.merge_up(7, found.version, 2, by=producer)
    return corrections.split_at(7, found.version, second=70, by=producer)


def correct(client, show, do, **more):
    address = reverse("archive:correct", args=[7])
    headers = more.pop("headers", {})
    return client.post(
        address, {"do": do, "version": show.version, **more}, headers=headers, follow=not headers
    )


def starts():
    return list(ArchivedShow.objects.get(number=7).segments.values_list("start_s", flat=True))


def test_show_page_has_every_line_with_its_second(show, as_user, reviewer):
    page = as_user(reviewer).get(show.get_absolute_url(), {"at": "82"}).content.decode()

    assert "Wash it with soap" in page
    assert 'href="https://stream.marrowlane.example/7#t=80"' in page
    assert 'id="here"' in page
    assert page.index('id="here"') < page.index("There are fine strings")
    assert "Correct segment" not in page


def test_show_page_shows_a_window_of_many_lines(show, as_user, producer, monkeypatch):
    monkeypatch.setattr(selectors, "LINES_SHOWN", 10)
    client = as_user(producer)

    first = client.get(show.get_absolute_url()).content.decode()
    later = client.get(show.get_absolute_url(), {"from": "20"}).content.decode()

    assert first.count("data-cue=") == 10
    assert later.count("data-cue=") == 9
    assert "more lines of this segment" in first


@pytest.mark.parametrize("query", [{"at": "x"}, {"at": "-5"}, {"at": "9" * 30}, {"from": "-1"}])
def test_show_page_survives_forged_places(show, as_user, producer, query):
    assert as_user(producer).get(show.get_absolute_url(), query).status_code == 200


def test_correct_works_without_javascript(show, as_user, producer):
    page = correct(
        as_user(producer),
        show,
        "save",
        place=2,
        begins="1:20",
        kind="notice",
        title="A note",
        case="",
    )

    segment = show.segments.get(position=2)
    assert page.status_code == 200
    assert starts() == [0, 80]
    assert (segment.kind, segment.title) == ("notice", "A note")


@pytest.mark.parametrize(
    ("do", "more", "expected"),
    [
        ("earlier", {"place": 2}, [0, 65]),
        ("later", {"place": 2}, [0, 75]),
        ("here", {"place": 2, "second": "100"}, [0, 100]),
        ("split", {"second": "1:40"}, [0, 70, 100]),
        ("merge", {"place": 2}, [0]),
        ("undo", {}, [0]),
    ],
)
def test_correct_gives_htmx_the_segments_alone(show, as_user, producer, do, more, expected):
    page = correct(as_user(producer), show, do, headers={"HX-Request": "true"}, **more)

    assert page.status_code == 200
    assert page.content.decode().lstrip().startswith("<section")
    assert page["Desk-Said"]
    assert starts() == expected


@pytest.mark.parametrize(
    ("do", "more", "status"),
    [
        ("split", {"second": ""}, 422),
        ("split", {"second": "soon"}, 422),
        ("here", {"place": 1, "second": "5"}, 422),
        ("kind", {"place": 2, "kind": "advert"}, 422),
        ("save", {"place": 2, "title": "", "kind": "case"}, 422),
        ("save", {"place": 2, "title": "A", "kind": "case", "case": "99999"}, 422),
        ("save", {"place": 77, "title": "A", "kind": "case"}, 422),
        ("dance", {}, 400),
    ],
)
def test_correct_refuses_with_a_reason(show, as_user, producer, do, more, status):
    page = correct(as_user(producer), show, do, **more)

    assert page.status_code == status
    assert starts() == [0, 70]


def test_save_that_is_refused_in_part_moves_nothing(show, as_user, producer):
    more = {"place": 2, "begins": "1:20", "title": "A", "kind": "case", "case": "99999"}

    page = correct(as_user(producer), show, "save", **more)

    assert page.status_code == 422
    assert "There is no case 99999." in page.content.decode()
    assert starts() == [0, 70]


def test_save_of_nothing_new_says_so(show, as_user, producer):
    segment = show.segments.get(position=2)
    more = {"place": 2, "begins": "1:10", "title": segment.title, "kind": segment.kind, "case": ""}
    client = as_user(producer)

    assert "Nothing was changed." in correct(client, show, "save", **more).content.decode()
    corrections.merge_up(7, show.version, 2, by=producer)
    corrections.split_at(7, show.version + 1, second=70, by=producer)
    more["title"] = show.segments.get(position=2).title
    assert correct(client, show, "save", **more).status_code == 409


def test_split_takes_a_second_as_finely_as_a_page_writes_it(show, as_user, producer):
    assert correct(as_user(producer), show, "split", second="100.123456").status_code == 200
    assert starts() == [0, 70, 100]


@pytest.mark.parametrize(("second", "expected"), [(4, 1), (5, 2), (6, 2), (0, 0), (99, 3)])
def test_nearest_cue_before_finds_the_cue_a_link_was_made_for(second, expected):
    cues = [CueLine(at, at + 1, "words") for at in (0.2, 4.5, 5.6, 8.0)]

    assert selectors.nearest_cue_before(cues, second) == expected


def test_correct_tells_an_old_page_to_look_again(show, as_user, producer):
    corrections.move_start(7, show.version, 2, cues=1, by=producer)

    page = correct(as_user(producer), show, "later", place=2)

    assert page.status_code == 409
    assert "in the meantime" in page.content.decode()
    assert starts() == [0, 75]


def test_right_notes_who_found_it_right(show, as_user, producer):
    correct(as_user(producer), show, "right")

    show.refresh_from_db()
    assert show.checked_by == producer


def test_facts_change_page_and_refuse_a_script(show, as_user, producer):
    client, address = as_user(producer), reverse("archive:facts", args=[7])

    bad = client.post(address, {"title": "Plates", "link": "javascript:alert(1)"})
    good = client.post(address, {"title": "Soap", "link": "", "on_date": "2024-03-07"})

    assert (bad.status_code, good.status_code) == (422, 302)
    show.refresh_from_db()
    assert (show.title, show.link) == ("Soap", "")


def test_remove_takes_the_show_out_of_archive_and_index_once_the_box_is_ticked(
    show, as_user, producer
):
    client, address = as_user(producer), reverse("archive:remove", args=[7])

    client.post(address)
    assert ArchivedShow.objects.filter(number=7).exists()
    client.post(address, {"is_sure": "yes"})

    assert not ArchivedShow.objects.exists()
    assert not find_spoken("plate").rows


def test_captions_file_reads_back_the_same(show, as_user, reviewer):
    page = as_user(reviewer).get(reverse("archive:captions", args=[7]))

    assert page["Content-Type"].startswith("text/vtt")
    again = import_captions(page.content, number=8, label="8.vtt").show
    assert again.captions.cues == show.captions.cues


def test_upload_takes_many_files_and_says_what_became_of_each(as_user, producer):
    client = as_user(producer)
    files = [
        SimpleUploadedFile("show 3.vtt", vtt()),
        SimpleUploadedFile("show 4.vtt", b"nothing"),
        SimpleUploadedFile("captions.vtt", vtt()),
    ]

    client.post(reverse("archive:upload"), {"captions": files})
    waiting = client.get(reverse("archive:uploads")).content.decode()
    run_due_jobs()
    done = client.get(reverse("archive:archive")).content.decode()

    assert "hx-trigger" in waiting
    assert 'hx-trigger="every 2s"' not in done
    assert list(ArchivedShow.objects.values_list("number", flat=True)) == [3]
    assert done.count("refused") >= 2
    assert not CaptionUpload.objects.exclude(raw=None).exists()


def test_upload_takes_the_number_of_one_file(as_user, producer):
    client = as_user(producer)
    one = [SimpleUploadedFile("captions.vtt", vtt())]
    two = [SimpleUploadedFile("a.vtt", vtt()), SimpleUploadedFile("b.vtt", vtt())]

    refused = client.post(reverse("archive:upload"), {"captions": two, "number": "5"})
    client.post(reverse("archive:upload"), {"captions": one, "number": "5"})
    run_due_jobs()

    assert refused.status_code == 422
    assert ArchivedShow.objects.get().number == 5


def test_pages_need_the_same_queries_for_many_shows(
    as_user, reviewer, django_assert_max_num_queries
):
    for number in range(1, 9):
        import_captions(vtt(), number=number, label="x.vtt")
    client = as_user(reviewer)

    with django_assert_max_num_queries(9):
        client.get(reverse("archive:archive"))
