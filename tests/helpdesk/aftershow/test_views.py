"""The pages after a show, by plain forms."""

import datetime
import io
import json

import pytest
import webvtt
from django.core.files.uploadedfile import SimpleUploadedFile

from helpdesk.accounts.models import User
from helpdesk.aftershow.models import HandTold, RollDraft, Supporter
from helpdesk.cases.services import Consent
from helpdesk.episodes import services as episodes
from helpdesk.episodes.models import Episode
from helpdesk.episodes.rates import rate_for
from tests.factories import make_case

START = datetime.datetime(2026, 11, 26, 20, 0, tzinfo=datetime.UTC)
PAGE = "/episodes/38/after"
pytestmark = pytest.mark.django_db


@pytest.fixture
def episode(producer: User) -> Episode:
    """Make an episode with one print in it, whose person is reached by chat."""
    made = episodes.make_episode(
        number=38, title="Knocks", starts_at=START, slot_s=1200, words_per_minute=165
    )
    case = make_case(
        title="The tray",
        email="",
        handle="kiln",
        handle_where="the chat",
        reply_channel="chat",
        consent=Consent(may_show_photos=True, credit_kind="handle", credit_as="kiln"),
    )
    episodes.add_case(made, case, actor=producer)
    made.segments.filter(kind="case").update(presenter="Imke", script="word " * 300, fixed_s=0)
    made.refresh_from_db()
    return made


def test_whole_way_by_forms(episode, producer, as_user):
    """Air, real times, files, text, letters and rate, one after the other."""
    page = as_user(producer)
    assert "nobody noted" in page.get(PAGE).text
    assert b"at_" not in page.get(PAGE).content

    air = {
        "on_air_at": "2026-11-26T20:00:10",
        "off_air_at": "2026-11-26T20:06:40",
        "recording_offset_s": "10",
    }
    assert page.post(f"{PAGE}/air", air).status_code == 302
    parts = list(episode.segments.order_by("position"))
    typed = ("0:10", "30", "1:00", "3:00", "3:30", "4:00")
    times = {f"at_{s.pk}": at for s, at in zip(parts, typed, strict=True)}
    assert page.post(f"{PAGE}/times", times).status_code == 302
    assert "every part was noted" in page.get(PAGE).text

    track = page.get(f"{PAGE}/chapters.vtt")
    assert track["Content-Type"] == "text/vtt; charset=utf-8"
    assert "episode-38-chapters.vtt" in track["Content-Disposition"]
    starts = [c.start for c in webvtt.from_buffer(io.StringIO(track.text)).captions]
    assert starts[:3] == ["00:00:00.000", "00:00:10.000", "00:00:30.000"]
    found = page.get(f"{PAGE}/chapters.json")
    assert found["Content-Type"] == "application/json+chapters"
    assert [c["startTime"] for c in json.loads(found.text)["chapters"]][-1] == 240.0
    listed = page.get(f"{PAGE}/chapters.txt")
    assert listed["Content-Type"] == "text/plain; charset=utf-8"
    assert listed.text.startswith("00:00 ")

    text = page.get(f"{PAGE}/texts/1.txt")
    assert "01:00 The tray" in text.text
    assert "episode-38-description-1.txt" in text["Content-Disposition"]

    page.post("/episodes/38/out", {"link": "https://video.example/38"})
    assert "https://video.example/38#t=60" in page.get(PAGE).text
    case_id = parts[2].case_id
    page.post(f"{PAGE}/told", {"case": case_id})
    assert HandTold.objects.get().case_id == case_id
    assert "told by hand" in page.get(PAGE).text

    said = page.post(f"{PAGE}/rates", follow=True).text
    assert f"{rate_for('Imke').words_per_minute} from now on" in said


def test_time_that_is_none_is_refused_and_stays_in_the_form(episode, producer, as_user):
    page = as_user(producer)
    page.post(f"{PAGE}/air", {"on_air_at": "2026-11-26T20:00:00", "recording_offset_s": "0"})
    first = episode.segments.first()

    answer = page.post(f"{PAGE}/times", {f"at_{first.pk}": "soon"})

    assert answer.status_code == 422
    assert 'value="soon"' in answer.text
    assert "such as 4:41" in answer.text


def test_text_is_edited_and_given_back_to_the_desk(episode, producer, as_user):
    page = as_user(producer)
    edit = {"words": "Watch the tray.", "limit_chars": "0", "version": "1"}
    assert page.post(f"{PAGE}/texts/1", edit).status_code == 302
    assert page.get(f"{PAGE}/texts/1.txt").text == "Watch the tray.\n"

    bad = page.post(
        f"{PAGE}/texts/1",
        {"words": "Bettine Halvorsen’s tray", "limit_chars": "0", "version": "2"},
    )
    assert bad.status_code == 422
    assert "is not to be named" in bad.text
    assert "Bettine Halvorsen’s tray" in bad.text

    back = {"words": "x", "limit_chars": "90", "version": "2", "do": "desk"}
    page.post(f"{PAGE}/texts/1", back)
    assert "episode 38" in page.get(f"{PAGE}/texts/1.txt").text


def test_two_who_edit_a_text_lose_nothing(episode, producer, as_user):
    """The later one sees both texts, and may keep theirs knowing the other."""
    page = as_user(producer)
    first = {"words": "Watch the tray.", "limit_chars": "0", "version": "1"}
    assert page.post(f"{PAGE}/texts/1", first).status_code == 302

    second = page.post(f"{PAGE}/texts/1", first | {"words": "Look at the corners."})

    assert second.status_code == 409
    assert "Somebody else saved this text meanwhile." in second.text
    assert "Look at the corners." in second.text
    assert "Watch the tray." in second.text
    assert page.get(f"{PAGE}/texts/1.txt").text == "Watch the tray.\n"
    again = {"words": "Look at the corners.", "limit_chars": "0"}
    again["version"] = str(second.context["form"]["version"].value())
    assert page.post(f"{PAGE}/texts/1", again).status_code == 302
    assert page.get(f"{PAGE}/texts/1.txt").text == "Look at the corners.\n"


def test_text_that_names_somebody_by_now_is_not_handed_out(episode, producer, as_user):
    page = as_user(producer)
    edit = {"words": "Watch the tray of kiln.", "limit_chars": "0", "version": "1"}
    page.post(f"{PAGE}/texts/1", edit)
    case = episode.segments.get(kind="case").case
    case.credit_kind, case.credit_as = "anonymous", ""
    case.save()

    answer = page.get(f"{PAGE}/texts/1.txt")

    assert answer.status_code == 409
    assert "“kiln”" in answer.text


def test_places_come_and_go(episode, producer, as_user):
    page = as_user(producer)
    page.post(f"{PAGE}/texts", {"target": "Feed", "limit_chars": "80"})
    again = page.post(f"{PAGE}/texts", {"target": "Feed", "limit_chars": "80"})
    assert again.status_code == 422
    assert "there already" in again.text

    assert page.post(f"{PAGE}/texts/2/remove").status_code == 302
    assert page.get(f"{PAGE}/texts/2").status_code == 404


def test_reviewer_looks_and_changes_nothing(episode, reviewer, as_user):
    page = as_user(reviewer)

    shown = page.get(PAGE).text

    assert "Keep the times" not in shown
    assert page.post(f"{PAGE}/rates").status_code == 403
    assert page.get("/supporters").status_code == 403


def test_list_of_supporters_by_forms(episode, producer, as_user):
    page = as_user(producer)
    assert "Nobody to be named yet" in page.get("/supporters").text
    file = SimpleUploadedFile("list.csv", "Somebody;OK\nZoë Okonjo;yes\n".encode())

    page.post("/supporters/list", {"table": file})
    draft = RollDraft.objects.get()
    assert "Say which column is the name" in page.get(draft.get_absolute_url()).text
    columns = {"column_0": "name", "column_1": "may_name"}
    page.post(draft.get_absolute_url(), columns | {"do": "look"})
    assert "Bring in 1 new" in page.get(draft.get_absolute_url()).text
    page.post(draft.get_absolute_url(), columns | {"do": "import"})
    assert "With thanks to Zoë Okonjo." in page.get("/supporters").text

    assert page.post(f"{PAGE}/roll").status_code == 302
    assert episode.segments.get(kind="thanks").script == "With thanks to Zoë Okonjo."
    one = Supporter.objects.get()
    page.post(one.get_absolute_url(), {"name": "Zoë Okonjo", "since": "2021"})
    assert Supporter.objects.get().since == "2021"
    assert not Supporter.objects.get().may_name
    page.post(f"/supporters/{one.pk}/erase")
    assert not Supporter.objects.exists()


def test_workbook_is_refused_with_what_to_do(producer, as_user):
    file = SimpleUploadedFile("list.xlsx", b"PK\x03\x04 not text")

    answer = as_user(producer).post("/supporters/list", {"table": file})

    assert answer.status_code == 422
    assert "save its sheet as CSV" in answer.text
