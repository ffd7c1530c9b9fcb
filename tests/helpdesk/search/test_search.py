"""Finding cases by their words, on whichever database the suite runs."""

import json

import pytest
from django.core.management import call_command
from django.db import connection
from django.urls import reverse

from helpdesk.cases.services import erase_person, record_outcome
from helpdesk.photos.services import prepare_photo, receive_photo
from helpdesk.search.models import SearchEntry
from helpdesk.search.selectors import find_cases, find_similar
from helpdesk.search.services import index_case
from helpdesk.search.words import split_words
from tests.factories import make_case
from tests.helpdesk.pictures import upload

pytestmark = pytest.mark.django_db


def indexed_case(**values):
    """Open a case and index it."""
    case = make_case(**values)
    index_case(case.pk)
    return case


def titles(hits):
    return [hit.entry.title for hit in hits.rows]


def test_split_words_leaves_out_common_words_unless_nothing_else_is_there():
    assert split_words("The hairs on my cones!") == ["hairs", "cones"]
    assert split_words("what is this") == ["what", "is", "this"]


def test_find_cases_finds_word_forms_and_marks_them():
    indexed_case(title="Cones", story="Fine strings between both cones")
    indexed_case(title="Tray", story="Both ends curl up")

    hits = find_cases("string")

    assert titles(hits) == ["Cones"]
    assert "<mark>strings</mark>" in hits.rows[0].excerpt


def test_find_cases_wants_all_words_before_any():
    indexed_case(title="One", story="curling corners on a grey tray")
    indexed_case(title="Two", story="a tray with a ring")

    hits = find_cases("grey tray")

    assert titles(hits)[0] == "One"
    assert hits.is_loose
    assert "Two" in titles(hits)


def test_find_cases_narrows_by_filters():
    indexed_case(title="Petg", story="hairs everywhere", facts={"material": "PETG"})
    indexed_case(title="Pla", story="hairs everywhere", facts={"material": "PLA"})

    assert titles(find_cases("hairs", filters={"material": "PETG"})) == ["Petg"]
    assert titles(find_cases("", filters={"material": "PLA"})) == ["Pla"]


def test_find_cases_pages_without_losing_or_repeating():
    for number in range(25):
        indexed_case(title=f"Tray {number}", story="a curled tray again")

    first, second = find_cases("curled", page=1), find_cases("curled", page=2)

    assert first.has_more
    assert not second.has_more
    assert len(set(titles(first)) | set(titles(second))) == 25


@pytest.mark.parametrize(
    "typed",
    [
        '"',
        "AND OR NOT",
        "tray*",
        "a NEAR/3 b",
        "'; DROP TABLE x; --",
        "tray:title",
        "\x00\x01",
        "🙂 🙂",
    ],
)
def test_find_cases_takes_anything_typed(typed):
    indexed_case(story="a curled tray")

    find_cases(typed)


def test_excerpt_escapes_what_people_wrote():
    indexed_case(title="<b>x</b>", story="<script>alert(1)</script> tray")

    hit = find_cases("tray").rows[0]

    assert "<script>" not in hit.excerpt
    assert "&lt;b&gt;" in hit.title


def test_index_follows_outcome_and_erasure():
    case = indexed_case(title="Tray", story="curled tray")
    record_outcome(case, result="worked")
    index_case(case.pk)
    assert titles(find_cases("tray", filters={"outcome": "worked"})) == ["Tray"]

    erase_person(case, by="Bettine")
    index_case(case.pk)

    assert not find_cases("tray").rows
    assert not SearchEntry.objects.filter(case=case).exists()


def test_find_similar_returns_answered_cases_only():
    old = indexed_case(title="Old", story="hollow tower shifted sideways overnight")
    SearchEntry.objects.filter(case=old).update(answer="Tighten the pulley.")
    indexed_case(title="Unanswered", story="hollow tower shifted sideways overnight")
    new = indexed_case(title="New", story="my hollow tower shifted sideways")

    assert [h.case.pk for h in find_similar(new)] == [old.pk]


def test_search_page_keeps_its_filters_in_the_address(as_user, reviewer):
    for number in range(25):
        indexed_case(title=f"Tray {number}", story="curled tray", facts={"material": "PLA"})

    page = as_user(reviewer).get(reverse("search:search"), {"words": "curled", "material": "PLA"})

    assert "words=curled&amp;material=PLA&amp;page=2" in page.content.decode()


def test_search_page_gives_htmx_the_hits_alone(as_user, reviewer):
    indexed_case(title="Tray", story="curled tray")

    page = as_user(reviewer).get(
        reverse("search:search"), {"words": "tray"}, headers={"HX-Request": "true"}
    )

    text = page.content.decode()
    assert text.lstrip().startswith('<div id="hits"')
    assert page["Desk-Said"] == "1 shown"


def test_search_page_shows_the_first_photo_of_a_hit(as_user, reviewer):
    shown = indexed_case(title="Tray", story="curled tray")
    photo = receive_photo(upload(), label="IMG_0410.jpg", case=shown, alt_text="A curled corner")
    prepare_photo(photo.pk)
    photo.refresh_from_db()
    indexed_case(title="Lid", story="curled lid")

    text = as_user(reviewer).get(reverse("search:search"), {"words": "curled"}).content.decode()

    assert photo.thumb_address in text
    assert "A curled corner" in text
    assert text.count("no photo") == 1


def test_search_page_refuses_a_forged_filter(as_user, reviewer):
    page = as_user(reviewer).get(reverse("search:search"), {"outcome": "forged"})

    assert page.status_code == 422


@pytest.mark.parametrize("rows", [3, 18])
def test_search_page_needs_the_same_queries_for_many_rows(
    rows, as_user, reviewer, django_assert_max_num_queries
):
    for number in range(rows):
        indexed_case(title=f"Tray {number}", story="curled tray")
    client = as_user(reviewer)

    with django_assert_max_num_queries(15):
        client.get(reverse("search:search"), {"words": "curled"})


def test_search_answers_command_prints_ranked_hits(capsys):
    case = indexed_case(title="Tray", story="curled tray")

    call_command("search_answers", "curled", "--json")

    assert json.loads(capsys.readouterr().out)[0]["case"] == case.pk


def test_index_case_leaves_no_word_of_an_erased_case_in_the_index_file():
    """Words taken out of a full-text index stay in its blocks until they are merged away."""
    case = indexed_case(story="My zanzibarquince curls up from the plate")
    indexed_case(story="Another curl of the corners")

    erase_person(case, by="the person")
    index_case(case.pk)

    assert not find_cases("zanzibarquince").rows
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("SELECT block FROM search_words_data")
            assert not any(b"zanzibar" in bytes(row[0]) for row in cursor.fetchall())


def test_find_similar_survives_a_word_without_end():
    """A report that is one endless word has no neighbours, and is no fault of the server."""
    case = indexed_case(title="Print", story="a" * 40_000)

    assert find_similar(case) == []


def test_search_page_shows_faults_the_knowledge_dropped(as_user, reviewer):
    """A fault that a later revision no longer holds stays a filter, by its id."""
    case = indexed_case()
    SearchEntry.objects.filter(case=case).update(fault="fault-of-long-ago")

    page = as_user(reviewer).get(reverse("search:search"))

    assert page.status_code == 200
    assert "fault-of-long-ago" in page.content.decode()
