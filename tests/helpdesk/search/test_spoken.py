"""What was said on shows: found to the second, across cues and passages, in quotation marks."""

import json

import pytest
from django.core.management import call_command
from django.db import connection
from django.urls import reverse

from helpdesk.search.models import SpokenPassage
from helpdesk.search.spoken import find_spoken
from helpdesk.search.spoken_index import SpokenCue, SpokenPart, drop_show, index_show

pytestmark = pytest.mark.django_db
LINK = "https://stream.marrowlane.example/41?quality=high"


def indexed(texts, *, number=41, parts=None, step_s=4.0, link=LINK):
    cues = [SpokenCue(n * step_s, text) for n, text in enumerate(texts)]
    given = parts or [SpokenPart(0, "case", "A tall vase", fault="filament-wet")]
    index_show(number, title="Strings", on_date=None, link=link, cues=cues, parts=given)


def filler(count):
    return ["and it goes on like that for a while"] * count


def seconds(typed):
    return [hit.at.second for hit in find_spoken(typed).rows]


def test_find_spoken_gives_the_second_of_the_cue_not_of_its_passage():
    indexed([*filler(3), "here the silica gel is grey", *filler(9)])

    [hit] = find_spoken("silica").rows

    assert hit.at.second == 12
    assert hit.at.address == LINK + "#t=12"
    assert "<mark>silica</mark>" in hit.excerpt


def test_find_spoken_finds_words_across_the_border_of_two_cues():
    indexed([*filler(2), "nobody had cleaned the", "plate in weeks", *filler(9)])

    assert seconds('"cleaned the plate"') == [8]
    assert seconds("weeks cleaned") == [8]


@pytest.mark.parametrize("before", range(12))
def test_find_spoken_finds_a_phrase_wherever_passages_meet(before):
    """Wherever a passage ends, and a segment too, the phrase is one hit at its own second."""
    parts = [SpokenPart(0, "intro", "Hello"), SpokenPart(before + 1, "case", "A vase")]
    texts = [*filler(before), "we dry the", "spool for six hours", *filler(8)]
    indexed(texts, parts=parts)

    hits = find_spoken('"dry the spool"').rows

    assert [(hit.at.second, hit.title) for hit in hits] == [(before * 4, "Hello")]


def test_find_spoken_takes_a_phrase_as_it_stands_and_single_words_anywhere():
    indexed(["the screw is tight but the grub is loose", *filler(20), "a grub screw it is"])

    assert seconds('"grub screw"') == [84]
    assert seconds("screw grub")[0] in {0, 84}
    assert len(find_spoken("screw grub").rows[0].also_at) == 1


def test_find_spoken_begins_where_the_words_stand_closest_together():
    indexed(["a belt", *filler(2), "a belt that is", "loose", *filler(8)])

    assert seconds("loose belt") == [12]


def test_find_spoken_finds_forms_of_a_word():
    indexed(["the corners were curling", *filler(4)])

    assert seconds("curled") == [0]


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL tells accents apart")
def test_find_spoken_passes_over_accents():
    indexed([*filler(1), "in the Café", *filler(4)])

    assert seconds("cafe") == [4]


def test_find_spoken_falls_back_to_some_of_the_words():
    indexed(["the corners curl", *filler(40), "a brim helps"])

    hits = find_spoken("corners brim")

    assert hits.is_loose
    [hit] = hits.rows
    assert {hit.at.second, *(moment.second for moment in hit.also_at)} == {0, 164}


@pytest.mark.parametrize(
    "typed", ["", '"', '""', "'; DROP TABLE", "a AND OR NOT (", '"the on"', "*", "ß" * 90]
)
def test_find_spoken_survives_anything_typed(typed):
    indexed(filler(4))

    find_spoken(typed)


def test_find_spoken_keeps_to_a_fault():
    indexed(["fine strings"])
    indexed(["fine strings"], number=42, parts=[SpokenPart(0, "notice", "A note")])

    assert [hit.number for hit in find_spoken("strings", fault="filament-wet").rows] == [41]


def test_find_spoken_escapes_what_was_said():
    indexed(["a < b & fine strings"])

    [hit] = find_spoken("strings").rows

    assert hit.excerpt.startswith("a &lt; b &amp; fine <mark>strings</mark>")


def test_index_show_again_replaces_and_drop_show_removes():
    indexed(["old words"])
    indexed(["new words"])

    assert seconds("old words") == seconds("words") == [0]
    assert not find_spoken('"old words"').rows
    drop_show(41)
    assert not SpokenPassage.objects.exists()
    assert not find_spoken("words").rows


def test_index_show_breaks_up_cues_that_claim_the_same_second():
    indexed(["many words at once"] * 3000, step_s=0.0)

    assert max(SpokenPassage.objects.values_list("own_chars", flat=True)) < 3000
    assert seconds("words") == [0]


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL finds and marks in one step")
@pytest.mark.parametrize("step", [1, 2])
def test_find_spoken_survives_a_show_that_goes_between_its_steps(step):
    indexed(["here the silica gel is grey"])
    taken = []

    def drop_in_between(execute, sql, *given):
        done = execute(sql, *given)
        taken.append(sql)
        if len(taken) == step:
            SpokenPassage.objects.all().delete()
        return done

    with connection.execute_wrapper(drop_in_between):
        assert find_spoken("silica").rows == []


def test_search_page_shows_what_was_said_beside_cases(as_user, reviewer):
    indexed([*filler(2), "fine strings everywhere"])

    page = as_user(reviewer).get(reverse("search:search"), {"words": "strings"})
    text = page.content.decode()

    assert "Said on the show" in text
    assert f"{LINK}#t=8" in text.replace("&amp;", "&")
    assert "0:08" in text


def test_search_page_leaves_shows_out_when_a_printer_is_asked_for(as_user, reviewer):
    indexed(["fine strings everywhere"])

    page = as_user(reviewer).get(
        reverse("search:search"), {"words": "strings", "outcome": "worked"}
    )

    assert "Said on the show" not in page.content.decode()


def test_search_answers_command_names_episode_and_second(capsys):
    indexed([*filler(2), "fine strings everywhere"])

    call_command("search_answers", '"fine strings"', "--json")

    [hit] = json.loads(capsys.readouterr().out)
    assert (hit["where"], hit["episode"], hit["second"]) == ("episode", 41, 8)
    assert hit["address"].endswith("#t=8")
