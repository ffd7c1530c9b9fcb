"""Times, texts, letters and rates after a show."""

import datetime
from typing import Any

import pytest

from helpdesk.aftershow import services
from helpdesk.aftershow.errors import NoPlaceError, NotNamedError
from helpdesk.aftershow.models import Description, HandTold, Supporter
from helpdesk.aftershow.rates import FROM_CAPTIONS, FROM_SCRIPT, learn_rates, measure_rates
from helpdesk.aftershow.selectors import get_after_show, list_texts, list_told
from helpdesk.aftershow.services import PartTime
from helpdesk.cases.models import Appearance, Case
from helpdesk.cases.services import Consent, record_consent
from helpdesk.core.errors import RefusedInputError, StaleVersionError
from helpdesk.core.jobs import run_due_jobs
from helpdesk.episodes import services as episodes
from helpdesk.episodes.models import Episode, Segment
from helpdesk.episodes.rates import rate_for
from helpdesk.keeping.erasing import erase_case
from helpdesk.outbox.models import OutgoingMail
from helpdesk.search.spoken_index import SpokenCue, SpokenPart, index_show
from tests.factories import make_case

START = datetime.datetime(2026, 11, 26, 20, 0, tzinfo=datetime.UTC)
pytestmark = pytest.mark.django_db


@pytest.fixture
def case() -> Case:
    """Open a case whose photos may be shown and whose person is named."""
    consent = Consent(may_show_photos=True, credit_kind="name", credit_as="Bettine")
    return make_case(title="The tray", consent=consent)


@pytest.fixture
def episode(case: Case, producer: Any) -> Episode:
    """Make an episode with a case in it, and everything of the run sheet a text may hold."""
    made = episodes.make_episode(
        number=38, title="Knocks", starts_at=START, slot_s=1200, words_per_minute=165
    )
    segment = episodes.add_case(made, case, actor=producer)
    Segment.objects.filter(pk=segment.pk).update(
        links="https://marrowlane.example/trays\n",
        audience_question="Does glue help?",
        presenter="Imke",
    )
    made.refresh_from_db()
    return made


def note_times(episode: Episode, producer: Any, *seconds: float, offset_s: int = 0) -> None:
    """Let the show begin on time and its parts at seconds of the recording."""
    services.set_air(
        episode,
        on_air_at=START,
        off_air_at=START + datetime.timedelta(seconds=400),
        recording_offset_s=offset_s,
        actor=producer,
    )
    parts = list(episode.segments.order_by("position"))
    times = [PartTime(s.pk, at, False) for s, at in zip(parts, seconds, strict=True)]
    services.set_part_times(episode, times, actor=producer)


def text_of(episode: Episode) -> str:
    return list_texts(get_after_show(episode))[0].text


def test_basis_says_what_the_times_rest_on(episode, producer):
    assert "planned times" in get_after_show(episode).basis

    note_times(episode, producer, 0, 20, 50, 281, 300, 330)
    assert "every part was noted" in get_after_show(episode).basis

    episode.segments.filter(kind="call").update(started_at=None)
    assert "real times of 5 of 6 parts" in get_after_show(episode).basis


def test_times_of_the_recording_become_moments_and_move_the_case(episode, case, producer):
    episodes.mark_out(episode, actor=producer)

    note_times(episode, producer, 30, 50, 90, 311, 330, 360, offset_s=30)

    segment = episode.segments.get(case=case)
    assert segment.started_at == START + datetime.timedelta(seconds=60)
    assert Appearance.objects.get(case=case).starts_at_s == 90
    assert OutgoingMail.objects.filter(kind="featured").count() == 1


def test_unchanged_second_keeps_the_fraction_that_was_noted(episode, producer):
    note_times(episode, producer, 0, 20, 50, 281, 300, 330)
    noted = START + datetime.timedelta(seconds=50.75)
    episode.segments.filter(kind="case").update(started_at=noted)
    case_part = episode.segments.get(kind="case")

    changed = services.set_part_times(
        episode, [PartTime(case_part.pk, 50.0, False)], actor=producer
    )

    assert changed == 0
    case_part.refresh_from_db()
    assert case_part.started_at == noted


def test_part_times_need_to_know_when_the_show_began(episode, producer):
    with pytest.raises(NoPlaceError, match="went on air"):
        services.set_part_times(episode, [], actor=producer)


def test_show_cannot_end_before_it_began(episode, producer):
    with pytest.raises(RefusedInputError, match="before it went on air"):
        services.set_air(
            episode, on_air_at=START, off_air_at=START, recording_offset_s=0, actor=producer
        )


def test_text_holds_what_was_shown_who_is_named_questions_and_links(episode):
    text = text_of(episode)

    assert "episode 38: Knocks" in text
    assert "26 November 2026" in text
    assert "00:50 The tray" in text
    assert "The tray: Bettine." in text
    assert "Does glue help?" in text
    assert "https://marrowlane.example/trays" in text


def test_text_names_nobody_who_took_it_back(episode, case):
    record_consent(case, Consent(may_show_photos=True), given_by="Bettine")

    assert "Bettine" not in text_of(episode)


def test_text_carries_the_caution_of_a_danger_and_keeps_it_in_any_space(episode, producer):
    consent = Consent(may_show_photos=True)
    danger = make_case(
        title="The plug", story="Smoke came out and the connector is scorched.", consent=consent
    )
    run_due_jobs()
    episodes.add_case(episode, danger, actor=producer)
    Description.objects.create(episode=episode, target="Short", limit_chars=60)

    text = list_texts(get_after_show(episode))[0]

    assert "Take care" in text.text
    assert "unplug" in text.text.lower()
    assert text.over_chars > 0
    assert "Links" in text.written.left_out


def test_text_leaves_out_the_least_needed_first(episode):
    whole = len(text_of(episode))
    Description.objects.create(episode=episode, target="Short", limit_chars=whole - 5)

    text = list_texts(get_after_show(episode))[0]

    assert text.written.left_out == ("Asked by the audience",)
    assert text.over_chars == 0


def test_edited_text_stands_until_the_desk_would_write_another(episode, case, producer):
    after = get_after_show(episode)
    text = list_texts(after)[0]
    services.keep_text(
        after, text, words="Tonight: Bettine’s tray.", limit_chars=0, version=1, actor=producer
    )
    kept = list_texts(get_after_show(episode))[0]
    assert kept.text == "Tonight: Bettine’s tray.\n"
    assert not kept.is_stale
    assert not kept.trouble

    record_consent(case, Consent(may_show_photos=True), given_by="Bettine")

    stale = list_texts(get_after_show(episode))[0]
    assert stale.is_stale
    assert stale.trouble == [f"“Bettine” of case {case.pk} is not to be named."]


def test_edited_text_cannot_name_who_is_not_to_be_named(episode, producer):
    after = get_after_show(episode)

    with pytest.raises(NotNamedError, match="Bettine Halvorsen"):
        services.keep_text(
            after,
            list_texts(after)[0],
            words="A tray by bettine halvorsen of Tarn Street.",
            limit_chars=0,
            version=1,
            actor=producer,
        )


def test_text_two_people_edit_is_not_lost(episode, producer):
    after = get_after_show(episode)
    services.keep_text(
        after, list_texts(after)[0], words="One.", limit_chars=0, version=1, actor=producer
    )

    with pytest.raises(StaleVersionError):
        services.keep_text(
            after, list_texts(after)[0], words="Two.", limit_chars=0, version=1, actor=producer
        )


def test_places_of_the_show_before_are_the_usual_ones(episode, producer):
    after = get_after_show(episode)
    services.add_target(after, [t.description for t in list_texts(after)], "Feed", 500)
    later = episodes.make_episode(
        number=39, title="Rings", starts_at=START, slot_s=1200, words_per_minute=165
    )

    texts = list_texts(get_after_show(later))
    assert [(t.description.target, t.description.limit_chars) for t in texts] == [
        ("Description", 0),
        ("Feed", 500),
    ]
    with pytest.raises(RefusedInputError, match="there already"):
        services.add_target(get_after_show(later), [t.description for t in texts], " feed ", 1)


def test_erased_person_leaves_the_texts_edited_by_hand(episode, case, producer):
    after = get_after_show(episode)
    services.keep_text(
        after,
        list_texts(after)[0],
        words="Bettine’s tray.",
        limit_chars=0,
        version=1,
        actor=producer,
    )

    erase_case(case.pk)

    row = Description.objects.get()
    assert row.text == "somebody’s tray.\n"
    assert "Bettine" not in row.written_from


def test_people_are_told_each_in_their_own_way(episode, case, producer):
    consent = Consent(may_show_photos=True)
    by_chat = make_case(
        email="", handle="kiln", handle_where="the chat", reply_channel="chat", consent=consent
    )
    nobody = make_case(email="", consent=consent)
    for more in (by_chat, nobody):
        episodes.add_case(episode, more, actor=producer)
    assert [t.way for t in list_told(get_after_show(episode))] == ["mail", "hand", "hand"]

    episodes.mark_out(episode, actor=producer, link="https://video.example/38")
    run_due_jobs()

    told = list_told(get_after_show(episode))
    assert [(t.case.pk, t.way) for t in told] == [
        (case.pk, "mail"),
        (by_chat.pk, "hand"),
        (nobody.pk, "none"),
    ]
    assert told[0].state == "letter sent"
    assert "https://video.example/38#t=" in told[1].words
    assert "{" not in told[1].words


def test_somebody_told_by_hand_is_noted_once(episode, case, producer):
    services.mark_told(case, episode, actor=producer)
    services.mark_told(case, episode, actor=producer)

    assert HandTold.objects.count() == 1
    assert case.events.filter(kind="told").count() == 1


def test_time_told_before_a_correction_stays_visible(episode, producer):
    """Correcting moves the place; the event of the letter keeps what the person was told."""
    episodes.mark_out(episode, actor=producer)

    note_times(episode, producer, 0, 20, 77, 281, 300, 330)

    (told,) = list_told(get_after_show(episode))
    assert told.second_told == 50
    assert told.has_moved


def test_rate_is_measured_on_the_words_of_the_captions(episode, producer):
    note_times(episode, producer, 0, 20, 50, 281, 300, 330)
    cues = [
        SpokenCue(50 + n * 11, "ten words are said here in every one of these") for n in range(21)
    ]
    index_show(
        38, title="Knocks", on_date=None, link="", cues=cues, parts=[SpokenPart(0, "case", "Tray")]
    )

    (measured,) = measure_rates(episode, get_after_show(episode).parts)

    assert measured.presenter == "Imke"
    assert measured.basis == FROM_CAPTIONS
    assert (measured.words, measured.seconds) == (210, 231)
    assert measured.words_per_minute == 55


def test_rate_is_learnt_once_and_again_after_a_correction(episode, producer):
    script = "word " * 360
    episode.segments.filter(kind="case").update(script=script, fixed_s=51)
    note_times(episode, producer, 0, 20, 50, 281, 300, 330)

    (first,) = learn_rates(episode, get_after_show(episode).parts)
    learn_rates(episode, get_after_show(episode).parts)

    assert measure_rates(episode, get_after_show(episode).parts)[0].basis == FROM_SCRIPT
    assert (rate_for("Imke").words, rate_for("Imke").seconds) == (360, 180)
    assert first.new_wpm == rate_for("Imke").words_per_minute
    assert first.new_wpm < first.old_wpm or first.old_wpm == 165

    note_times(episode, producer, 0, 20, 50, 221, 300, 330)
    learn_rates(episode, get_after_show(episode).parts)
    assert (rate_for("Imke").words, rate_for("Imke").seconds) == (360, 120)


def test_part_without_noted_end_teaches_nothing(episode, producer):
    episode.segments.filter(kind="case").update(script="word " * 360)
    note_times(episode, producer, 0, 20, 50, 281, 300, 330)
    episode.segments.filter(kind="thanks").update(started_at=None)

    assert learn_rates(episode, get_after_show(episode).parts) == []


def test_roll_goes_into_the_thanks_in_place_of_an_older_one(episode):
    episode.segments.filter(kind="thanks").update(script="Thank you, library.")
    services.keep_supporter(None, {"name": "Zoë Okonjo", "said_as": "zo-ee", "may_name": True})
    services.keep_supporter(None, {"name": "Quiet Person", "may_name": False})

    services.put_roll_into_script(episode)
    services.keep_supporter(None, {"name": "Ágota Lind", "may_name": True})
    segment = services.put_roll_into_script(episode)

    assert segment.script == "Thank you, library.\n\nWith thanks to Ágota Lind; Zoë Okonjo."
    assert segment.talking_points == "Say Zoë Okonjo: “zo-ee”"


def test_erased_supporter_leaves_roll_and_scripts(episode):
    zoe = services.keep_supporter(None, {"name": "Zoë", "said_as": "zo-ee", "may_name": True})
    services.keep_supporter(None, {"name": "Ada", "may_name": True})
    segment = services.put_roll_into_script(episode)
    episode.segments.filter(kind="hello").update(script="Zoë sends her love.")

    left = services.erase_supporter(zoe)

    segment.refresh_from_db()
    assert segment.script == "With thanks to Ada."
    assert segment.talking_points == ""
    assert left == [38]
    assert list(Supporter.objects.values_list("name", flat=True)) == ["Ada"]


def test_supporter_who_takes_it_back_leaves_the_scripts(episode):
    ada = services.keep_supporter(None, {"name": "Ada", "may_name": True})
    segment = services.put_roll_into_script(episode)

    services.keep_supporter(ada, {"may_name": False})

    segment.refresh_from_db()
    assert segment.script == ""
    with pytest.raises(NoPlaceError, match="Nobody on the list"):
        services.put_roll_into_script(episode)


def test_supporter_stands_on_the_list_once():
    services.keep_supporter(None, {"name": "Zoë  Okonjo", "may_name": True})

    with pytest.raises(RefusedInputError, match="already"):
        services.keep_supporter(None, {"name": "zoe okonjo"})
