"""The public report form: what is kept, what is refused, and that nothing typed is lost."""

import html
import re
import time

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.cases.models import AccessLink, Case, Report
from helpdesk.core.models import Job
from helpdesk.outbox.models import OutgoingMail
from helpdesk.photos.models import Photo
from tests.factories import make_case
from tests.helpdesk.intake.forms_data import KEY, report_data
from tests.helpdesk.pictures import draw_picture, picture_bytes, upload

pytestmark = pytest.mark.django_db
REPORT = "/report"
SCRIPT = "<script>alert('x')</script><img src=x onerror=alert(1)>"
WORDS = ("story", "machine", "material_maker", "batch", "tried", "person_name")


def shown_value(page: str, name: str) -> str:
    """Return what a text field of a page holds."""
    area = re.search(rf'<textarea name="{name}"[^>]*>\n?(.*?)</textarea>', page, re.DOTALL)
    if area:
        return html.unescape(area[1])
    control = re.search(rf'<input[^>]*name="{name}"[^>]*>', page)
    assert control, name
    value = re.search(r'value="([^"]*)"', control[0])
    return html.unescape(value[1]) if value else ""


def test_report_page_offers_a_form_without_an_account(client):
    """Anybody gets an empty form with its own key, twice different."""
    first, second = client.get(REPORT), client.get(REPORT)

    assert first.status_code == 200
    keys = {shown_value(page.content.decode(), "draft_key") for page in (first, second)}
    assert len(keys) == 2
    assert "no-store" not in first["Cache-Control"]


def test_report_opens_a_case_with_every_fact(client):
    """What was typed becomes a case; figures lose their units, the words as sent are kept."""
    response = client.post(REPORT, report_data())

    case = Case.objects.get()
    assert response.status_code == 302
    assert re.fullmatch(r"/t/[\w-]{32}\?new=1", response["Location"])
    assert case.state == "received"
    assert (case.layer_height_mm, case.nozzle_mm, case.nozzle_c) == (0.2, 0.4, 210)
    assert (case.bed_c, case.speed_mm_s, case.failed_at_mm) == (60, 60, 43)
    assert (case.machine, case.material, case.material_maker, case.batch) == (
        "Tern 220",
        "PLA",
        "Fennmoor",
        "F-2211",
    )
    assert case.email == "bettine@tarnstreet.example"
    report = case.reports.get()
    assert report.story.startswith("Third go")
    assert report.facts["nozzle_c"] == "210 °C"
    assert Job.objects.filter(kind="diagnose-case", payload__case=case.pk).exists()


def test_report_of_a_danger_shows_the_caution_on_the_next_page(client):
    """Nobody has to come back later to be told to switch off."""
    location = client.post(
        REPORT, report_data(story="There is a burning smell and the plug is scorched and hot.")
    )["Location"]

    assert 'class="danger"' in client.get(location).content.decode()


def test_report_is_kept_when_the_engine_fails(client, monkeypatch):
    """A fault of the engine costs the person nothing; the job waits for another try."""

    def fail(*args, **kwargs):
        raise RuntimeError("planted fault")

    monkeypatch.setattr("helpdesk.diagnosis.services.run_engine", fail)

    response = client.post(REPORT, report_data())

    assert client.get(response["Location"]).status_code == 200
    job = Job.objects.get(kind="diagnose-case")
    assert job.state == "waiting"
    assert "planted fault" in job.last_error


def test_report_assumes_no_consent(client):
    """Whoever ticks nothing has allowed nothing, and the proof says so."""
    client.post(REPORT, report_data())

    case = Case.objects.get()
    proof = case.consents.get()
    for thing in (case, proof):
        assert not thing.may_publish_answer
        assert not thing.may_show_photos
        assert thing.credit_kind == "anonymous"
    assert not case.reports.get().keeps_originals


def test_report_keeps_separate_consents(client):
    """Answer, photos, credit and originals are four choices."""
    client.post(
        REPORT,
        report_data(
            may_show_photos="on",
            credit_kind="name",
            credit_as="Bet-TEEN",
            age="over",
            keeps_originals="on",
        ),
    )

    case = Case.objects.get()
    assert (case.may_publish_answer, case.may_show_photos) == (False, True)
    assert case.spoken_credit == "Bet-TEEN"
    assert case.reports.get().keeps_originals


def test_report_of_the_young_shows_nothing_without_a_guardian(client):
    """Under 16 a consent is noted but opens nothing."""
    client.post(
        REPORT,
        report_data(may_show_photos="on", may_publish_answer="on", credit_kind="name", age="under"),
    )

    case = Case.objects.get()
    assert case.is_under_16
    assert not case.may_show_in_public
    assert not case.may_answer_in_public
    assert case.spoken_credit == ""


@pytest.mark.parametrize("change", [{"may_show_photos": "on"}, {"credit_kind": "name"}])
def test_report_asks_the_age_where_something_is_shown(client, change):
    """Only a person who allows something is asked whether they are under 16."""
    response = client.post(REPORT, report_data(**change))

    assert response.status_code == 422
    assert "whether you are under 16" in response.content.decode()
    assert 'href="#id_age"' in response.content.decode()


def test_report_passed_on_gives_no_consent_but_a_credit(client):
    """A finder is named as they wish; the owner's consent is never assumed."""
    client.post(
        REPORT,
        report_data(
            whose="passing_on",
            owner_name="Wilhelmina Roake",
            owner_link="https://posts.example/4711",
            may_publish_answer="on",
            may_show_photos="on",
            credit_kind="handle",
            credit_as="filament ferret",
            age="over",
        ),
    )

    case = Case.objects.get()
    assert not case.is_own_print
    assert (case.owner_name, case.owner_link) == ("Wilhelmina Roake", "https://posts.example/4711")
    assert not case.may_publish_answer
    assert not case.may_show_photos
    assert case.spoken_credit == "filament ferret"


def test_report_answers_to_a_handle(client):
    """A handle in a named place will do instead of an address."""
    response = client.post(
        REPORT,
        report_data(answer_by="chat", email="", handle="bett", handle_where="Salvage chat"),
    )

    case = Case.objects.get()
    assert response.status_code == 302
    assert (case.reply_channel, case.handle, case.handle_where) == ("chat", "bett", "Salvage chat")
    assert not OutgoingMail.objects.exists()


def test_report_sends_a_receipt_that_repeats_nothing(client):
    """The receipt is automatic, has the private link's place and none of the person's words."""
    client.post(REPORT, report_data(story="A marker word: zanzibar."))

    mail = OutgoingMail.objects.get()
    assert mail.is_automatic
    assert "{private_link}" in mail.text
    for words in ("zanzibar", "Bettine", "Tern"):
        assert words not in mail.text + mail.subject
    assert Job.objects.filter(kind="send-mail").count() == 1


def test_report_receipt_is_sent_with_a_working_link(
    client, mailoutbox, django_capture_on_commit_callbacks
):
    """The letter that goes out holds an address that opens the case, and asks for no reply."""
    with django_capture_on_commit_callbacks(execute=True):
        client.post(REPORT, report_data())

    (letter,) = mailoutbox
    assert letter.extra_headers["Auto-Submitted"].startswith("auto-")
    address = re.search(r"http://testserver(/t/\S+)", letter.body)
    assert address
    assert client.get(address[1]).status_code == 200


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"story": ""}, "Please tell us in a few words what happened."),
        ({"story": "   \n "}, "Please tell us in a few words what happened."),
        ({"story": "\U0001f62d\U0001f62d\U0001f525"}, "Please add a few words: from signs alone"),
        ({"failed_at_mm": "4,3cm-ish"}, "Give the height in millimetres as a number, such as 43."),
        ({"nozzle_c": "2100"}, "Please check the nozzle’s temperature: we expect 0 to 600 °C."),
        ({"layer_height_mm": "thin"}, "Give the layer height in millimetres as a number"),
        ({"email": ""}, "Give an e-mail address for the answer, or choose another way."),
        ({"email": "bettine at home"}, "Give the e-mail address in full"),
        ({"answer_by": "chat"}, "Give the handle we shall answer to, or choose e-mail."),
        ({"answer_by": "pigeon"}, "Select a valid choice"),
        ({"process": "XYZ"}, "Select a valid choice"),
        ({"whose": None}, "Please say whose print it is."),
        ({"machine": "x" * 81}, "Please shorten the printer’s name to 80 characters"),
        ({"owner_link": "javascript:alert(1)", "whose": "passing_on"}, "Give the address as it"),
        ({"credit_kind": "name", "person_name": "", "age": "over"}, "Please write the name"),
    ],
)
def test_report_refuses_with_a_sentence_and_keeps_the_rest(client, change, sentence):
    """One wrong field is told at the field and in the summary; everything typed comes back."""
    data = report_data(**change)

    response = client.post(REPORT, data)

    page = html.unescape(response.content.decode())
    assert response.status_code == 422
    assert page.count(sentence) >= 2
    assert page.index("<title>Error: ") > 0
    assert 'class="refusals' in page
    for name in WORDS:
        assert shown_value(response.content.decode(), name) == data.get(name, ""), name
    assert not Case.objects.exists()
    assert "no-store" in response["Cache-Control"]


def test_report_summary_leads_to_each_refused_field(client):
    """Links of the summary match the refused fields one to one, in words and targets."""
    response = client.post(REPORT, report_data(story="", failed_at_mm="tall", email=""))

    page = response.content.decode()
    summary = page[page.index('class="refusals') : page.index("</section>")]
    links = re.findall(r'<a href="#([^"]+)">([^<]+)</a>', summary)
    assert {target for target, _ in links} == {"id_story", "id_failed_at_mm", "id_email"}
    for target, words in links:
        assert page.count(words) == 2
        control = re.search(rf'<(?:input|textarea)[^>]*id="{target}"[^>]*>', page)
        assert control
        assert 'aria-invalid="true"' in control[0]
        described = re.search(r'aria-describedby="([^"]+)"', control[0])
        assert described
        assert all(f'id="{part}"' in page for part in described[1].split())
    assert "autofocus" in page


def test_report_refuses_a_story_over_the_limit_and_keeps_it(client):
    """A hundred thousand characters are refused with both numbers, and all of them come back."""
    story = "word " * 20_000

    response = client.post(REPORT, report_data(story=story))

    page = response.content.decode()
    assert response.status_code == 422
    assert "Please shorten your story to 50,000 characters; it has 99,999 now." in page
    assert shown_value(page, "story").strip() == story.strip()


def test_report_takes_a_long_story(client):
    """Just under the limit is fine."""
    assert client.post(REPORT, report_data(story="a" * 49_999)).status_code == 302


def test_report_shows_a_right_to_left_story_in_its_direction(client):
    """Arabic words are taken, and text fields find their own direction."""
    story = "الطبقة الأولى لا تلتصق بالسرير"

    response = client.post(REPORT, report_data(story=story, machine=""))
    page = client.get(response["Location"]).content.decode()

    assert response.status_code == 302
    assert f'<h1 dir="auto">{story}' in page
    assert f'class="story" dir="auto">{story}' in page
    assert 'dir="auto"' in client.get(REPORT).content.decode()


def test_report_with_a_script_in_every_field_runs_nothing(client):
    """Markup typed anywhere is shown as the characters it is, refused or accepted."""
    fields = dict.fromkeys((*WORDS, "material", "handle", "handle_where", "owner_name"), SCRIPT)
    accepted = client.post(
        REPORT,
        report_data(
            **(fields | {"material": SCRIPT[:40], "draft_key": KEY}),
            credit_kind="name",
            credit_as=SCRIPT,
            age="over",
            whose="passing_on",
        ),
    )
    refused = client.post(REPORT, report_data(**fields, email=SCRIPT, failed_at_mm=SCRIPT))

    assert (accepted.status_code, refused.status_code) == (302, 422)
    for page in (client.get(accepted["Location"]), refused, client.get(REPORT)):
        text = page.content.decode()
        assert "<script>alert" not in text
        assert "<img src=x" not in text
        assert "unsafe-inline" not in page["Content-Security-Policy"]


def test_report_drops_control_characters(client):
    """NUL and other controls vanish; line ends stay."""
    client.post(REPORT, report_data(story="one\x00 two\x08\r\nthree", machine="Tern\x00 220"))

    assert Report.objects.get().story == "one two\nthree"
    assert Case.objects.get().machine == "Tern 220"


def test_report_ignores_fields_it_does_not_have(client):
    """Fields a browser would not send change nothing: state, links, agreement, person in charge."""
    client.post(
        REPORT,
        report_data(
            state="closed", guardian_agreed="on", assigned_to="1", title="x", id="9", case="1"
        ),
    )

    case = Case.objects.get()
    assert case.state == "received"
    assert not case.guardian_agreed
    assert case.assigned_to is None
    assert case.title.startswith("Third go")


@pytest.mark.parametrize(
    "key", ["", "short", "x" * 200, "../../../etc/passwd-long-enough", "ü" * 24]
)
def test_report_replaces_a_forged_draft_key(client, key):
    """A key of another shape is replaced, never stored."""
    response = client.post(REPORT, report_data(draft_key=key))

    assert response.status_code == 302
    assert re.fullmatch(r"web:[\w-]{24}", Report.objects.get().submission_key)


def test_report_without_its_token_is_refused():
    """A form posted from elsewhere is refused and changes nothing."""
    strict = Client(enforce_csrf_checks=True)

    for address in (REPORT, "/report/photos", "/report/photos/remove", "/new-link"):
        assert strict.post(address, report_data()).status_code == 403
    assert not Case.objects.exists()


def test_report_replayed_is_the_same_case(client):
    """Sending the form again, by the back button or a lost answer, leads to the same case."""
    first = client.post(REPORT, report_data())
    second = client.post(REPORT, report_data())

    assert (first.status_code, second.status_code) == (302, 302)
    assert Case.objects.count() == 1
    assert OutgoingMail.objects.count() == 1
    case_number = f'Case <span class="num">{Case.objects.get().pk}</span>'
    for response in (first, second):
        assert case_number in client.get(response["Location"]).content.decode()


def test_report_replayed_with_its_photos_adds_none(client):
    """A form sent again with the same files brings no second copy of them."""
    for _ in range(2):
        client.post(REPORT, report_data(photos=[upload()]))

    assert Photo.objects.filter(case=Case.objects.get()).count() == 1
    assert Photo.objects.count() == 1


def test_report_replayed_after_erasure_opens_nothing(client):
    """A form sent again after its case was deleted brings nothing back."""
    client.post(REPORT, report_data())
    token_page = client.post(REPORT, report_data())["Location"]
    client.post(f"{token_page}/erase")

    response = client.post(REPORT, report_data())

    assert response["Location"] == reverse("intake:erased")
    assert Case.objects.count() == 1
    assert not AccessLink.objects.filter(revoked_at__isnull=True).exists()


def test_report_trap_asks_again_and_loses_nothing(client):
    """A filled field that people do not see stops the form once, with the words kept."""
    response = client.post(REPORT, report_data(web_page="https://spam.example"))

    page = response.content.decode()
    assert response.status_code == 422
    assert "A field that people do not see was filled in" in page
    assert shown_value(page, "web_page") == ""
    assert shown_value(page, "story").startswith("Third go")
    assert not Case.objects.exists()


def test_report_trap_is_hidden_from_everybody_but_programs(client):
    """The trap cannot be reached by keyboard, is not read out and is not filled by browsers."""
    page = client.get(REPORT).content.decode()

    trap = page[page.index('class="trap"') :][:400]
    assert 'aria-hidden="true"' in trap
    assert 'tabindex="-1"' in trap
    assert 'autocomplete="off"' in trap


def test_report_suggests_only_what_two_cases_share(client):
    """One person's own words are not shown to everybody as a suggestion."""
    for machine in ("Corvid C1", "Corvid C1", "Aunt Petronella’s printer"):
        make_case(facts={"machine": machine})

    page = client.get(REPORT).content.decode()

    assert "<option>Corvid C1</option>" in page
    assert "Petronella" not in page


def test_report_takes_photos_without_a_script(client):
    """Photos sent with the form become the case's."""
    client.post(
        REPORT,
        report_data(photos=[upload(), upload(picture_bytes(draw_picture(50, 40)), "b.jpg")]),
    )

    assert list(Case.objects.get().photos.values_list("label", flat=True)) == [
        "IMG_0410.jpg",
        "b.jpg",
    ]


def test_report_refused_keeps_photos_and_their_words(client):
    """After a refusal the photos are on the page with their descriptions; then they are sent."""
    refused = client.post(REPORT, report_data(story="", photos=[upload()]))
    photo = Photo.objects.get()
    page = refused.content.decode()
    assert refused.status_code == 422
    assert f'id="photo-{photo.pk}"' in page
    assert re.search(rf'name="remove"\s+value="{photo.pk}"', page)

    again = client.post(REPORT, report_data(story="", **{f"alt-{photo.pk}": "The rook"}))
    assert shown_value(again.content.decode(), f"alt-{photo.pk}") == "The rook"
    client.post(REPORT, report_data())

    photo.refresh_from_db()
    assert photo.case == Case.objects.get()
    assert photo.alt_text == "The rook"


def test_report_with_one_bad_photo_keeps_the_good_one(client):
    """An empty file is refused by name; the words and the other photo stay."""
    response = client.post(REPORT, report_data(photos=[upload(), upload(b"", "IMG_0412.jpg")]))

    page = response.content.decode()
    assert response.status_code == 422
    assert page.count("“IMG_0412.jpg” is empty. Please choose it again or remove it.") == 2
    assert 'href="#photos"' in page
    assert Photo.objects.count() == 1
    assert not Case.objects.exists()


def test_report_refuses_the_thirteenth_photo(client):
    """Thirteen photos in one form: twelve are kept, the last is refused with a sentence."""
    files = [upload(picture_bytes(draw_picture(40 + n, 30)), f"{n + 1}.jpg") for n in range(13)]

    response = client.post(REPORT, report_data(photos=files))

    assert response.status_code == 422
    assert "“13.jpg” is one too many: we take 12 photos at a time." in response.content.decode()
    assert Photo.objects.count() == 12


def test_report_removes_a_photo_without_a_script(client):
    """The remove button sends the form, which comes back unsent without that photo."""
    client.post(REPORT, report_data(story="", photos=[upload()]))
    photo = Photo.objects.get()

    response = client.post(REPORT, report_data(story="half written", remove=photo.pk))

    assert response.status_code == 200
    assert shown_value(response.content.decode(), "story") == "half written"
    assert "Error:" not in response.content.decode()
    assert not Photo.objects.exists()
    assert not Case.objects.exists()


def test_report_cannot_remove_or_describe_another_forms_photo(client):
    """A photo number from elsewhere changes nothing."""
    client.post(REPORT, report_data(story="", photos=[upload()]))
    photo = Photo.objects.get()
    other = {"draft_key": "another-draft-key-0000001"}

    client.post(REPORT, report_data(**other, remove=photo.pk, **{f"alt-{photo.pk}": "mine"}))
    client.post("/report/photos/remove", other | {"remove": photo.pk})

    photo.refresh_from_db()
    assert photo.alt_text == ""


def test_report_adds_photos_and_goes_on(client):
    """The button beside the file field uploads without sending the report."""
    response = client.post(REPORT, report_data(do="add", photos=[upload()], story=""))

    assert response.status_code == 200
    assert Photo.objects.count() == 1
    assert "refusals" not in response.content.decode()


def test_report_refuses_a_thirty_megabyte_file_without_holding_it(client, tmp_path):
    """Too large a file is refused in words; the rest of the form is kept."""
    big = tmp_path / "big.jpg"
    with big.open("wb") as file:
        file.write(picture_bytes())
        file.truncate(30 * 1024 * 1024)
    started = time.perf_counter()

    with big.open("rb") as file:
        response = client.post(REPORT, report_data(photos=[file]))

    page = response.content.decode()
    assert response.status_code == 422
    assert "“big.jpg” is larger than 25 MB. Please send a smaller copy of it." in page
    assert shown_value(page, "story").startswith("Third go")
    assert not Photo.objects.exists()
    assert time.perf_counter() - started < 5


def test_upload_photo_answers_with_its_entry(client):
    """A script's upload gets the entry to show, with name and remove button."""
    response = client.post("/report/photos", {"draft_key": KEY, "photo": upload()})

    photo = Photo.objects.get()
    page = response.content.decode()
    assert response.status_code == 200
    assert f'id="photo-{photo.pk}"' in page
    assert page.count("<li") == 1
    assert "IMG_0410.jpg" in page
    assert "<html" not in page


@pytest.mark.parametrize(
    ("data", "words"), [(b"", "is empty"), (b"GIF89a....", "not a photo we can read")]
)
def test_upload_photo_answers_a_refusal_with_a_sentence(client, data, words):
    """A script gets the sentence to show, as plain text."""
    response = client.post("/report/photos", {"draft_key": KEY, "photo": upload(data, "a.jpg")})

    assert response.status_code == 422
    assert words in response.content.decode()
    assert response["Content-Type"].startswith("text/plain")


@pytest.mark.parametrize("data", [{"draft_key": KEY}, {"draft_key": "no", "photo": "x"}, {}])
def test_upload_photo_without_key_or_file_is_refused(client, data):
    """An upload that belongs to no form keeps nothing."""
    assert client.post("/report/photos", data).status_code == 422
    assert not Photo.objects.exists()


def test_draft_photo_is_shown_to_its_own_form_only(client, django_capture_on_commit_callbacks):
    """The thumbnail opens with the form's key and with no other."""
    with django_capture_on_commit_callbacks(execute=True):
        client.post("/report/photos", {"draft_key": KEY, "photo": upload()})
    photo = Photo.objects.get()

    own = client.get(reverse("intake:draft_photo", args=[KEY, photo.pk]))
    other = client.get(reverse("intake:draft_photo", args=["another-draft-key-0000001", photo.pk]))

    assert own.status_code == 200
    assert "sandbox" in own["Content-Security-Policy"]
    assert "no-store" in own["Cache-Control"]
    assert other.status_code == 404


def test_remove_draft_photo_removes_it(client):
    """A script's remove button takes the photo away; again is no fault."""
    client.post("/report/photos", {"draft_key": KEY, "photo": upload()})
    data = {"draft_key": KEY, "remove": Photo.objects.get().pk}

    assert client.post("/report/photos/remove", data).status_code == 204
    assert client.post("/report/photos/remove", data).status_code == 204
    assert not Photo.objects.exists()


def test_report_sent_again_with_other_words_keeps_them(client):
    """Going back, changing words and sending again loses nothing and opens no second case."""
    client.post(REPORT, report_data())
    changed = report_data(
        story="Now it also smells hot near the plug.", nozzle_c="215", email="b@tarnstreet.example"
    )

    for _ in range(2):
        page = client.get(client.post(REPORT, changed)["Location"]).content.decode()

    case = Case.objects.get()
    reply = case.messages.get()
    assert reply.body == "Now it also smells hot near the plug.\nnozzle c: 215"
    assert "Now it also smells hot" in page
    assert case.email == "b@tarnstreet.example"
    assert case.danger_name


def test_report_without_what_a_database_cannot_hold(client):
    """NUL characters and broken text are dropped from facts as sent and descriptions."""
    client.post("/report/photos", {"draft_key": KEY, "photo": upload()})
    photo = Photo.objects.get()

    response = client.post(
        REPORT, report_data(machine="Tern\0 220", **{f"alt-{photo.pk}": "the \0corner"})
    )

    photo.refresh_from_db()
    assert response.status_code == 302
    assert Report.objects.get().facts["machine"] == "Tern 220"
    assert photo.alt_text == "the corner"


@pytest.mark.parametrize(
    "link", ["javascript:alert(1)", "ftp://post.example/a", "data:text/html,x"]
)
def test_report_takes_no_link_but_to_a_web_page(client, link):
    """A link that is no web address is refused, with everything else still there."""
    response = client.post(REPORT, report_data(whose="passing_on", owner_link=link))

    assert response.status_code == 422
    assert "beginning with https://" in response.content.decode()
    assert not Case.objects.exists()


@pytest.mark.parametrize("key", ["x", "%00" * 22, "%C3%A9" * 22])
def test_draft_photo_of_a_forged_key_is_not_found(client, key):
    """A key the desk never made opens nothing."""
    assert client.get(f"/report/photos/{key}/1").status_code == 404
