"""What a visitor meets who sends very much, and that nothing of theirs is lost by it."""

import pytest
from django.urls import reverse

from helpdesk.cases.models import Case
from helpdesk.cases.services import issue_link
from helpdesk.core.models import Bucket
from helpdesk.outbox.models import OutgoingMail
from helpdesk.photos.models import Photo
from tests.factories import make_case
from tests.helpdesk.intake.forms_data import KEY, report_data
from tests.helpdesk.pictures import draw_picture, picture_bytes, upload

pytestmark = pytest.mark.django_db
REPORT = "/report"


@pytest.fixture
def allow(settings):
    """Return a function that sets how often things may be done."""

    def change(**numbers: int) -> None:
        settings.LIMITS = settings.LIMITS | numbers

    return change


def test_reports_beyond_the_limit_come_back_with_every_word(client, allow):
    """The second report is not taken yet: its words and photos are in the form, to send again."""
    allow(reports=1)
    client.post(REPORT, report_data(draft_key="draft-key-of-a-form-0009"))

    response = client.post(REPORT, report_data(story="My own second story.", photos=[upload()]))

    page = response.content.decode()
    assert response.status_code == 429
    assert int(response["Retry-After"]) > 0
    assert "My own second story." in page
    assert "Everything you wrote is still here" in page
    assert Photo.objects.filter(draft_key=KEY).count() == 1
    assert Case.objects.count() == 1
    Bucket.objects.all().delete()
    assert client.post(REPORT, report_data(story="My own second story.")).status_code == 302
    assert Photo.objects.get().case == Case.objects.latest("pk")


def test_refused_forms_count_for_nothing(client, allow):
    """Somebody who forgets a field again and again is not locked out."""
    allow(reports=1)
    for _ in range(3):
        assert client.post(REPORT, report_data(story="")).status_code == 422

    assert client.post(REPORT, report_data()).status_code == 302


def test_photos_beyond_the_limit_are_named_and_the_others_kept(client, allow):
    """Sent one by one or with the form, photos over the limit are refused with a sentence."""
    allow(uploads=2)
    pictures = [upload(picture_bytes(draw_picture(40 + n, 30))) for n in range(4)]
    first = client.post("/report/photos", {"draft_key": KEY, "photo": pictures[0]})

    form = client.post(REPORT, report_data(photos=pictures[1:3]))
    alone = client.post("/report/photos", {"draft_key": KEY, "photo": pictures[3]})

    assert first.status_code == 200
    assert form.status_code == 422
    assert "Very many photos" in form.content.decode()
    assert alone.status_code == 429
    assert "Very many photos" in alone.content.decode()
    assert Photo.objects.filter(draft_key=KEY).count() == 2


def test_guessing_links_is_slowed_and_a_known_link_still_opens(client, allow):
    """After many addresses that open nothing the page changes; a true address works on."""
    allow(unknown_links=3)
    address = reverse("intake:track", args=[issue_link(make_case())])

    codes = [client.get(f"/t/guess-{number}").status_code for number in range(5)]

    assert codes == [404, 404, 404, 429, 429]
    assert client.get(address).status_code == 200


def test_replies_beyond_the_limit_come_back_with_their_words(client, allow):
    """A reply too many is shown again with what was written."""
    allow(replies=1)
    case = make_case()
    address = reverse("intake:track", args=[issue_link(case)])
    client.post(f"{address}/reply", {"draft_key": KEY, "words": "First."})

    key = "draft-key-of-a-reply-0002"
    response = client.post(f"{address}/reply", {"draft_key": key, "words": "My second words."})

    assert response.status_code == 429
    assert "My second words." in response.content.decode()
    assert "is still here" in response.content.decode()
    assert case.messages.count() == 1


def test_new_links_beyond_the_limit_send_no_letter(client, allow):
    """Nobody can have letters written without end."""
    allow(new_links=1)
    make_case()
    other = make_case(email="other@tarnstreet.example")
    client.post("/new-link", {"email": "bettine@tarnstreet.example"})

    response = client.post("/new-link", {"email": "other@tarnstreet.example"})

    assert response.status_code == 429
    assert "very often" in response.content.decode()
    assert not OutgoingMail.objects.filter(case=other).exists()
