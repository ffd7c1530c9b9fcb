"""The presenter's page: what it is given, what it sends, and the marks over pictures."""

import datetime
import json
import uuid

import pytest
from django.urls import reverse

from helpdesk.cases.services import Consent, record_consent
from helpdesk.core import clock
from helpdesk.core.jobs import run_due_jobs
from helpdesk.episodes.models import Segment
from helpdesk.episodes.services import add_case, change_segment, make_episode, move_segment
from helpdesk.episodes.starts import leave_out, take_back_start
from helpdesk.photos.services import receive_photo
from helpdesk.presenting.errors import EventNotUnderstoodError
from helpdesk.presenting.messages import read_messages
from helpdesk.presenting.models import PictureMark, StageEvent
from helpdesk.presenting.selectors import epoch_ms, get_stage
from helpdesk.presenting.services import add_mark, remove_mark, show_mark_earlier
from tests.architecture.world import make_picture
from tests.factories import make_case

START = datetime.datetime(2026, 11, 26, 20, 0, tzinfo=datetime.UTC)
RING = {"shape": "ring", "x1_pct": 10, "y1_pct": 10, "x2_pct": 40, "y2_pct": 40}
pytestmark = pytest.mark.django_db


@pytest.fixture
def case():
    """Return a case with a photo that may be shown."""
    agreed = Consent(may_show_photos=True, credit_kind="name", credit_as="Bettine")
    case = make_case(consent=agreed, title="Box with lifted corners")
    receive_photo(make_picture(64), label="a.jpg", case=case, alt_text="A white box")
    run_due_jobs()
    return case


@pytest.fixture
def episode(case, producer):
    """Return an episode with that case on its sheet."""
    episode = make_episode(
        number=38, title="Knocks", starts_at=START, slot_s=1200, words_per_minute=165
    )
    add_case(episode, case, actor=producer)
    return episode


@pytest.fixture
def send(as_user, episode, producer):
    """Return a function that sends events at a moment of the evening and returns the results."""
    client = as_user(producer)

    def post(*events, at=START + datetime.timedelta(minutes=1)):
        with clock.standing_at(at):
            response = client.post(
                reverse("presenting:events", args=[38]),
                json.dumps({"events": events}),
                content_type="application/json",
            )
        assert response.status_code == 200, response.content
        return response.json()["results"]

    return post


def event(kind, *, after_s=0.0, **values):
    """Return an event as a page sends it."""
    at_ms = epoch_ms(START + datetime.timedelta(seconds=after_s))
    return {"id": str(uuid.uuid4()), "kind": kind, "at_ms": at_ms, **values}


def ids(episode):
    return list(episode.segments.order_by("position").values_list("pk", flat=True))


def test_stage_carries_pictures_with_marks_in_their_turn(episode):
    photo_id = next(p for part in get_stage(episode)["parts"] for p in part["pictures"])["id"]
    before = get_stage(episode)["digest"]
    photo = episode.segments.get(case__isnull=False).pictures.get().photo
    for words in ("The corner", "The plate"):
        add_mark(photo, RING | {"words": words})

    stage = get_stage(episode)

    pictures = [p for part in stage["parts"] for p in part["pictures"]]
    assert photo.pk == photo_id
    assert [mark["words"] for mark in pictures[0]["marks"]] == ["The corner", "The plate"]
    assert pictures[0]["marks"][0]["x2"] == 40
    assert stage["digest"] != before


def test_marks_change_places_and_close_up(episode):
    photo = episode.segments.get(case__isnull=False).pictures.get().photo
    marks = [add_mark(photo, RING | {"words": words}) for words in ("One", "Two", "Three")]

    show_mark_earlier(marks[2])
    remove_mark(marks[0])

    left = PictureMark.objects.filter(photo=photo).values_list("words", "position")
    assert list(left) == [("Three", 1), ("Two", 2)]


def test_events_keep_the_starts_at_their_own_moments(episode, send):
    first, second = ids(episode)[:2]

    results = send(
        event("on_air", after_s=1.25),
        event("part", part=first, after_s=1.25),
        event("part", part=second, after_s=31.5),
        at=START + datetime.timedelta(minutes=20),
    )

    assert [r["refusal"] for r in results] == ["", "", ""]
    episode.refresh_from_db()
    assert episode.on_air_at == START + datetime.timedelta(seconds=1.25)
    starts = dict(episode.segments.values_list("pk", "started_at"))
    assert starts[second] == START + datetime.timedelta(seconds=31.5)


def test_event_sent_twice_is_done_once(episode, send):
    first = ids(episode)[0]
    start = event("part", part=first, after_s=5)
    send(event("on_air"), start)

    again = send({**start, "at_ms": start["at_ms"] + 9000})

    assert again == [{"id": start["id"], "refusal": ""}]
    assert Segment.objects.get(pk=first).started_at == START + datetime.timedelta(seconds=5)
    assert StageEvent.objects.filter(event_id=start["id"]).count() == 1


def test_refused_event_stops_no_other_and_stays_refused(episode, send):
    lost = event("part", part=999_999, after_s=1)
    first = ids(episode)[0]

    results = send(event("on_air"), lost, event("part", part=first, after_s=2))

    assert [bool(r["refusal"]) for r in results] == [False, True, False]
    assert results[1]["refusal"] == "That part is no longer on the sheet."
    assert send(lost) == [results[1]]
    assert Segment.objects.get(pk=first).started_at is not None


def test_event_from_the_future_is_refused(episode, send):
    results = send(event("on_air", after_s=3600))

    assert "future" in results[0]["refusal"]
    episode.refresh_from_db()
    assert episode.on_air_at is None


def test_start_is_taken_back_and_noted_anew(episode, send):
    first = ids(episode)[0]
    send(event("on_air"), event("part", part=first, after_s=2))

    send(event("undo", part=first, after_s=2))
    assert Segment.objects.get(pk=first).started_at is None
    send(event("part", part=first, after_s=9, correct=True))

    assert Segment.objects.get(pk=first).started_at == START + datetime.timedelta(seconds=9)


def test_start_of_another_moment_is_not_taken_back(episode, send):
    first = ids(episode)[0]
    send(event("on_air"), event("part", part=first, after_s=2))

    take_back_start(Segment.objects.get(pk=first), at=START)

    assert Segment.objects.get(pk=first).started_at == START + datetime.timedelta(seconds=2)


def test_part_left_out_is_put_back_by_its_start(episode, send):
    first = ids(episode)[0]

    send(event("on_air"), event("skip", part=first))
    assert Segment.objects.get(pk=first).was_left_out
    send(event("part", part=first, after_s=4))

    assert not Segment.objects.get(pk=first).was_left_out
    assert not leave_out(Segment.objects.get(pk=first), is_left_out=False).was_left_out


def test_order_is_taken_though_words_were_changed_meanwhile(episode, send):
    base = ids(episode)
    order = [*base[:2], *reversed(base[2:])]
    change_segment(Segment.objects.get(pk=base[3]), {"script": "Late words."})

    results = send(event("order", order=order, base=base))

    assert results[0]["refusal"] == ""
    assert ids(episode) == order


def test_order_made_from_another_order_is_refused(episode, send):
    base = ids(episode)
    move_segment(Segment.objects.get(pk=base[-1]), place=1)
    now = ids(episode)

    results = send(event("order", order=base[::-1], base=base))

    assert "changed meanwhile" in results[0]["refusal"]
    assert ids(episode) == now


def test_two_orders_in_a_row_both_count(episode, send):
    base = ids(episode)
    then = [base[1], base[0], *base[2:]]
    last = [base[1], base[2], base[0], *base[3:]]

    send(event("order", order=then, base=base), event("order", order=last, base=then))

    assert ids(episode) == last


def test_off_air_ends_the_show(episode, send):
    send(event("on_air"), event("off_air", after_s=50))

    episode.refresh_from_db()
    assert episode.off_air_at == START + datetime.timedelta(seconds=50)
    send(event("off_air", after_s=55))
    episode.refresh_from_db()
    assert episode.off_air_at == START + datetime.timedelta(seconds=50)


def test_withdrawn_case_loses_its_pictures_and_says_why(episode, case, send):
    send(event("on_air"))
    assert any(part["pictures"] for part in get_stage(episode)["parts"])

    record_consent(case, Consent(), given_by="the person")
    episode.refresh_from_db()
    part = next(p for p in get_stage(episode)["parts"] if p["case"] == case.pk)

    assert part["pictures"] == []
    assert part["do_not_show"]
    assert "Bettine" not in json.dumps(part)


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"[]",
        b'{"events": {}}',
        b'{"events": [1]}',
        b'{"events": [{"kind": "explode"}]}',
        b'{"events": [{"kind": "on_air", "id": "x", "at_ms": 1}]}',
        b'{"events": [{"kind": "on_air", "id": "8a7d1c52-6a4d-4a56-8a7c-93a6d5f64c01"}]}',
        b'{"events": [{"kind": "on_air", "id": "8a7d1c52-6a4d-4a56-8a7c-93a6d5f64c01",'
        b' "at_ms": 1e30}]}',
        b'{"events": [{"kind": "order", "id": "8a7d1c52-6a4d-4a56-8a7c-93a6d5f64c01",'
        b' "at_ms": 1, "order": [true]}]}',
        b"[" * 100_000,
        b"\xff\xfe",
    ],
)
def test_anything_else_than_events_is_refused(body):
    with pytest.raises(EventNotUnderstoodError):
        read_messages(body)


def test_page_holds_the_show_and_reads_without_script(as_user, episode, producer):
    page = as_user(producer).get(reverse("presenting:present", args=[38]))

    words = page.content.decode()
    assert "This is the whole show to read from." in words
    assert words.count('class="flow plain-part"') == episode.segments.count()
    assert "<script>" not in words
    assert " style=" not in words
    files = page.context["page"]["files"]
    assert "/static/js/present_clock.js" in files
    assert not any("present_worker" in name for name in files)


def test_every_file_the_page_wants_kept_is_there(as_user, episode, producer):
    client = as_user(producer)
    page = client.get(reverse("presenting:present", args=[38])).context["page"]

    for address in page["files"]:
        response = client.get(address)
        assert response.status_code == 200, address
        response.close()


def test_worker_may_answer_for_this_page_alone(as_user, episode, producer):
    response = as_user(producer).get(reverse("presenting:worker", args=[38]))

    assert response["Service-Worker-Allowed"] == "/episodes/38/present"
    assert response["Content-Type"].startswith("text/javascript")
    assert "no-store" in response["Cache-Control"]


def test_state_says_nothing_new_to_who_knows_it(as_user, episode, producer):
    client = as_user(producer)
    address = reverse("presenting:state", args=[38])
    show = client.get(address).json()["show"]

    again = client.get(address, {"known": show["digest"]}).json()

    assert again["show"] is None
    assert again["now_ms"] > 10**12


def test_mark_is_drawn_ordered_and_removed_on_the_page(as_user, episode, producer):
    client = as_user(producer)
    address = reverse("presenting:marks", args=[38])
    photo = episode.segments.get(case__isnull=False).pictures.get().photo

    client.post(address, RING | {"photo": photo.pk, "words": "The corner"})
    client.post(address, RING | {"photo": photo.pk, "words": "The plate", "shape": "arrow"})
    last = PictureMark.objects.latest("pk")
    client.post(address, {"photo": photo.pk, "mark": last.pk, "do": "earlier"})
    page = client.get(address).content.decode()

    assert page.index("The plate") < page.index("The corner")
    client.post(address, {"photo": photo.pk, "mark": last.pk, "do": "remove"})
    assert list(PictureMark.objects.values_list("words", "position")) == [("The corner", 1)]


def test_mark_outside_the_picture_is_refused_with_words(as_user, episode, producer):
    photo = episode.segments.get(case__isnull=False).pictures.get().photo

    response = as_user(producer).post(
        reverse("presenting:marks", args=[38]),
        RING | {"photo": photo.pk, "words": "Beyond", "x2_pct": 140},
    )

    assert response.status_code == 422
    assert "Please change what is marked" in response.content.decode()
    assert not PictureMark.objects.exists()
