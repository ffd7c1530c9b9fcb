"""A show as plain values: what the presenter's page is given."""

import datetime

import pytest

from helpdesk.cases.services import Consent, record_consent
from helpdesk.core.jobs import run_due_jobs
from helpdesk.episodes.models import ShownPicture
from helpdesk.episodes.selectors import get_show
from helpdesk.episodes.services import add_case, go_on_air, make_episode
from helpdesk.episodes.timing import count_words
from helpdesk.photos.models import Photo
from tests.factories import make_case

START = datetime.datetime(2026, 11, 26, 20, 0, tzinfo=datetime.UTC)
AGREED = Consent(may_show_photos=True, credit_kind="name", credit_as="Bettine")
pytestmark = pytest.mark.django_db


@pytest.fixture
def episode():
    """Return an episode in the making."""
    return make_episode(
        number=38, title="Knocks", starts_at=START, slot_s=1200, words_per_minute=180
    )


def add_photo(case, **values):
    """Give a case a photo that is ready, without pixels: nobody looks at it here."""
    defaults = {"state": "ready", "alt_text": "A lifted corner", "label": "a.jpg"}
    fixed = {"format": "JPEG", "size_bytes": 1, "sha256": "0" * 64, "received_at": START}
    return Photo.objects.create(case=case, **fixed, **(defaults | values))


def test_show_holds_what_a_part_says_and_shows(episode, producer):
    case = make_case(consent=AGREED, facts={"process": "MEX"})
    segment = add_case(episode, case, actor=producer)
    segment.presenter, segment.script = "Imke", "word " * 90
    segment.links, segment.audience_question = "https://tarnstreet.example/a\n\n", "Who dries?"
    segment.fixed_s = 5
    segment.save()
    segment.pictures.all().delete()
    ShownPicture.objects.create(segment=segment, photo=add_photo(case), position=1, seconds=12)

    show = get_show(episode)

    part = next(p for p in show.parts if p.case_id == case.pk)
    assert (part.words, part.words_per_minute) == (90, 180)
    assert part.planned_s == 30 + 12 + 5
    assert part.links == ("https://tarnstreet.example/a",)
    assert part.credits == ("Bettine",)
    assert [(p.alt, p.seconds) for p in part.pictures] == [("A lifted corner", 12)]
    assert part.audience_question == "Who dries?"
    assert (show.version, show.hard_end) == (
        episode.version,
        START + datetime.timedelta(seconds=1200),
    )


def test_danger_is_said_whatever_the_script_says_and_counts(episode, producer):
    case = make_case(story="It smells of burning and the plug is brown and scorched.")
    run_due_jobs()
    segment = add_case(episode, case, actor=producer)
    segment.script = "Nothing of it here."
    segment.save()

    part = next(p for p in get_show(episode).parts if p.case_id == case.pk)

    assert part.cautions
    assert any("unplug" in text for text in part.cautions)
    assert part.words == 4 + sum(count_words(text) for text in part.cautions)


def test_case_taken_back_while_on_air_is_not_to_be_shown(episode, producer):
    case = make_case(consent=AGREED)
    segment = add_case(episode, case, actor=producer)
    segment.pictures.all().delete()
    ShownPicture.objects.create(segment=segment, photo=add_photo(case), position=1, seconds=12)
    go_on_air(episode, at=START, actor=producer)
    before = next(p for p in get_show(episode).parts if p.case_id == case.pk)

    record_consent(case, Consent(), given_by="Bettine")
    after = next(p for p in get_show(episode).parts if p.case_id == case.pk)

    assert (before.do_not_show, len(before.pictures)) == ("", 1)
    assert after.do_not_show == "The person took back that photos may be shown."
    assert after.pictures == ()
    assert after.blocked == (after.do_not_show,)
