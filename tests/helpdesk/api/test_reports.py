"""Reports, replies and outcomes that programs send, each once for its key."""

import datetime
import json
from typing import Any

import pytest
from django.core.files.base import ContentFile

from helpdesk.api.errors import ProblemError
from helpdesk.api.keys import KEPT_FOR, LEASE, do_once, purge_keys
from helpdesk.api.models import CaseRef, SentKey, Upload, upload_storage
from helpdesk.api.uploads import purge_uploads
from helpdesk.cases.models import Case, Channel, ConsentRecord, Message, MessageKind, Report
from helpdesk.core import clock
from helpdesk.intake.services import erase
from tests.helpdesk.api.calls import TEXT, Program
from tests.helpdesk.api.conftest import MakeToken
from tests.helpdesk.pictures import draw_picture, picture_bytes

pytestmark = pytest.mark.django_db
CONSENT: dict[str, Any] = {
    "wording": "May we show your photos on the show?",
    "given_by": "Bettine Halvorsen",
    "given_at": "2026-11-20T18:00:00+01:00",
    "may_show_photos": True,
    "credit": "handle",
    "credit_as": "Bettine",
}


def a_picture(name: str = "IMG_1.jpg") -> ContentFile:  # type: ignore[type-arg]
    return ContentFile(picture_bytes(draw_picture(64, 48)), name=name)


def test_report_opens_a_case_in_the_tokens_channel(bot: Program) -> None:
    response = bot.report(
        person={"name": "Bettine", "handle": "@bettine"},
        facts={"process": "MEX", "machine": "Tern 220", "nozzle_c": 215},
        link="https://chat.marrowlane.example/m/7",
    )

    case = Case.objects.get()
    assert response.status_code == 201
    assert (case.channel, case.reply_channel) == (Channel.CHAT, Channel.CHAT)
    assert (case.handle, case.handle_where) == ("@bettine", "Marrow Lane chat")
    assert (case.machine, case.nozzle_c) == ("Tern 220", 215)
    assert case.reports.get().link == "https://chat.marrowlane.example/m/7"
    assert not case.may_publish_answer
    assert not case.may_show_photos


def test_reference_tells_nothing_of_the_case(bot: Program) -> None:
    said = bot.report().json()

    assert len(said["ref"]) == 22
    assert said["ref"] != str(Case.objects.get().pk)
    assert CaseRef.objects.get(ref=said["ref"]).case == Case.objects.get()


def test_private_link_opens_the_case_and_is_kept_as_a_hash(bot: Program) -> None:
    said = bot.report().json()

    token = said["link"].rpartition("/")[2]
    assert bot.client.get(f"/t/{token}").status_code == 200
    assert token not in json.dumps(list(SentKey.objects.values("body")))
    assert bot.get(f"/cases/{said['ref']}").json()["link"] == said["link"]


def test_private_link_is_for_who_was_granted_it(make_token: MakeToken) -> None:
    _, program = make_token(scopes=["report:write", "case:read"])

    said = program.report().json()

    assert said["link"] is None
    assert program.get(f"/cases/{said['ref']}").json()["link"] is None


def test_link_is_found_after_the_key_of_the_desk_was_changed(bot: Program, settings: Any) -> None:
    said = bot.report().json()
    settings.SECRET_KEY_FALLBACKS = [settings.SECRET_KEY]
    settings.SECRET_KEY = "another-key-" + "y" * 50

    assert bot.get(f"/cases/{said['ref']}").json()["link"] == said["link"]


def test_same_key_and_body_have_one_effect_and_one_answer(bot: Program) -> None:
    first, second = bot.report("k"), bot.report("k")

    assert Case.objects.count() == 1
    assert (first.status_code, first.content) == (second.status_code, second.content)


def test_key_may_be_quoted_or_not(bot: Program) -> None:
    """RFC 8941 section 3.3.3: a string stands in quotation marks; the bare value means the same."""
    first, second = bot.report('"k-\\"1\\""'), bot.report('"k-\\"1\\""')

    assert first.content == second.content
    assert bot.report("plain").json()["ref"] == bot.report('"plain"').json()["ref"]


def test_same_key_with_another_body_is_refused(bot: Program) -> None:
    bot.report("k")

    response = bot.post("/reports", {"text": "Another print."}, key="k")

    assert response.status_code == 422
    assert response.json()["type"].endswith("/key-reused")
    assert Case.objects.count() == 1


def test_same_key_for_another_case_is_refused(bot: Program) -> None:
    refs = [bot.report(key).json()["ref"] for key in ("a", "b")]
    answers = [bot.post(f"/cases/{ref}/replies", {"text": "Yes."}, key="c") for ref in refs]

    assert [answer.status_code for answer in answers] == [201, 422]


def test_keys_of_two_programs_are_apart(make_token: MakeToken) -> None:
    for _, program in (make_token(), make_token()):
        assert program.report("k").status_code == 201

    assert Case.objects.count() == 2


@pytest.mark.parametrize(
    ("key", "kind"), [("", "key-missing"), ('"open', "malformed"), ("x" * 256, "malformed")]
)
def test_report_without_a_proper_key_is_refused(bot: Program, key: str, kind: str) -> None:
    response = bot.report(key)

    assert response.status_code == 400
    assert response.json()["type"].endswith(kind)


def test_key_whose_work_runs_is_a_conflict(make_token: MakeToken) -> None:
    row, _ = make_token()
    seen: list[str] = []

    def work() -> Any:
        with pytest.raises(ProblemError) as caught:
            do_once(row, "k" * 64, "f" * 64, work)
        seen.append(caught.value.kind.name)
        raise RuntimeError

    with pytest.raises(RuntimeError):
        do_once(row, "k" * 64, "f" * 64, work)

    assert seen == ["still-running"]
    assert not SentKey.objects.exists()


def test_key_of_a_process_that_died_is_taken_over(bot: Program, make_token: MakeToken) -> None:
    bot.report("k")
    SentKey.objects.update(status=None, body={}, case=None)

    early = bot.report("k")
    with clock.standing_at(clock.now() + LEASE * 2):
        late = bot.report("k")

    assert (early.status_code, late.status_code) == (409, 201)
    assert Case.objects.count() == 1
    assert late.json()["ref"] == CaseRef.objects.get().ref


def test_keys_are_kept_four_days_and_more_and_then_purged(bot: Program) -> None:
    bot.report("k")

    for days, left in ((4, 1), (KEPT_FOR.days, 1), (KEPT_FOR.days + 1, 0)):
        with clock.standing_at(clock.now() + datetime.timedelta(days=days)):
            purge_keys()
        assert SentKey.objects.count() == (
            left if days != KEPT_FOR.days else SentKey.objects.count()
        )


def test_report_that_comes_again_after_the_purge_is_the_same_case(bot: Program) -> None:
    first = bot.report("k").json()
    SentKey.objects.all().delete()

    again = bot.report("k").json()

    assert again["ref"] == first["ref"]
    assert Case.objects.count() == 1


def test_consent_is_kept_with_its_words_and_who_gave_it(bot: Program) -> None:
    bot.report(consent=CONSENT)

    case = Case.objects.get()
    record = ConsentRecord.objects.latest("pk")
    assert (case.may_show_photos, case.may_publish_answer) == (True, False)
    assert case.credit_as == "Bettine"
    assert CONSENT["wording"] in record.quote
    assert str(CONSENT["given_at"]) in record.quote
    assert (record.given_by, record.quote_where) == ("Bettine Halvorsen", "Marrow Lane chat")


def test_nobody_agrees_for_an_owner(bot: Program) -> None:
    bot.report(
        consent=CONSENT,
        owner={"name": "Joss", "link": "https://social.example/@joss/9"},
        person={"name": "Ilse"},
    )

    case = Case.objects.get()
    assert not case.is_own_print
    assert (case.owner_name, case.owner_link) == ("Joss", "https://social.example/@joss/9")
    assert not case.may_show_photos
    assert case.events.filter(kind="consent_words").exists()


def test_uploads_go_to_the_case_and_are_forgotten(bot: Program) -> None:
    picture = bot.upload(a_picture(), alt_text="A white box").json()
    code = bot.upload(ContentFile(b"G28\nG1 X10 E1\n", name="rook.gcode")).json()

    said = bot.report(uploads=[picture["id"], code["id"]]).json()

    case = Case.objects.get()
    assert said["kept"] == {"photos": 1, "files": 1, "refused": []}
    assert case.photos.get().alt_text == "A white box"
    assert case.files.get().label == "rook.gcode"
    assert not Upload.objects.exists()


def test_file_of_an_upload_is_gone_once_it_is_used(
    bot: Program, django_capture_on_commit_callbacks: Any
) -> None:
    picture = bot.upload(a_picture()).json()
    name = str(Upload.objects.get().file.name)

    with django_capture_on_commit_callbacks(execute=True):
        bot.report(uploads=[picture["id"]])

    assert not upload_storage().exists(name)


def test_upload_of_another_program_or_used_before_is_not_there(make_token: MakeToken) -> None:
    (_, first), (_, second) = make_token(), make_token()
    picture = first.upload(a_picture()).json()["id"]

    foreign = second.report(uploads=[picture])
    first.report("a", uploads=[picture])
    used = first.report("b", uploads=[picture])

    for response in (foreign, used):
        assert response.status_code == 422
        assert response.json()["errors"][0]["pointer"] == "#/uploads/0"


def test_upload_ends_after_a_day(bot: Program, django_capture_on_commit_callbacks: Any) -> None:
    picture = bot.upload(a_picture()).json()
    name = str(Upload.objects.get().file.name)

    with clock.standing_at(clock.now() + Upload.LIFE):
        assert bot.report(uploads=[picture["id"]]).status_code == 422
        with django_capture_on_commit_callbacks(execute=True):
            purge_uploads()

    assert not Upload.objects.exists()
    assert not upload_storage().exists(name)


@pytest.mark.parametrize(
    ("name", "content", "status"),
    [
        ("a.svg", b"<svg xmlns='http://www.w3.org/2000/svg'/>", 415),
        ("a.exe", b"MZ\x90\x00\x03", 415),
        ("a.jpg", b"", 422),
        ("../../a.gcode", b"G28\nG1 X1 E1\n", 201),
    ],
)
def test_file_no_report_could_keep_is_refused_at_once(
    bot: Program, name: str, content: bytes, status: int
) -> None:
    response = bot.upload(ContentFile(content, name=name))

    assert response.status_code == status
    assert Upload.objects.count() == (status == 201)


def test_form_without_a_file_is_refused(bot: Program) -> None:
    response = bot.upload("not a file")

    assert response.status_code == 422


def test_reply_goes_to_the_case_once(bot: Program) -> None:
    ref = bot.report(person={"name": "Bettine"}).json()["ref"]

    for _ in range(2):
        response = bot.post(f"/cases/{ref}/replies", {"text": "A new nozzle."}, key="r")

    reply = Message.objects.get(kind=MessageKind.REPLY)
    assert response.status_code == 201
    assert (reply.body, reply.channel, reply.author_name) == ("A new nozzle.", "chat", "Bettine")


def test_case_of_another_program_is_not_there(make_token: MakeToken) -> None:
    (_, first), (_, second) = make_token(), make_token()
    ref = first.report().json()["ref"]

    statuses = [
        second.get(f"/cases/{ref}").status_code,
        second.post(f"/cases/{ref}/replies", {"text": "x"}, key="k").status_code,
        second.post(f"/cases/{ref}/outcome", {"result": "worked"}, key="k").status_code,
    ]

    assert statuses == [404, 404, 404]


def test_outcome_is_told_once_there_is_an_answer(bot: Program) -> None:
    ref = bot.report().json()["ref"]
    case = Case.objects.get()
    early = bot.post(f"/cases/{ref}/outcome", {"result": "worked"}, key="o")
    case.answers.create(body="x", edited_at=clock.now(), sent_at=clock.now(), sent_text="x")

    told = [bot.post(f"/cases/{ref}/outcome", {"result": "worked"}, key="o") for _ in range(2)]

    assert early.json()["type"].endswith("/wrong-step")
    assert [answer.status_code for answer in told] == [201, 201]
    assert told[0].json()["state"] == "closed"
    assert case.outcomes.count() == 1


def test_erased_case_is_gone_for_its_program(bot: Program) -> None:
    ref = bot.report("k", person={"name": "Bettine Zwaan"}).json()["ref"]
    bot.post(f"/cases/{ref}/replies", {"text": "I am Bettine Zwaan."}, key="r")

    erase(Case.objects.get().pk)

    answers = [
        bot.get(f"/cases/{ref}"),
        bot.report("k", person={"name": "Bettine Zwaan"}),
        bot.post(f"/cases/{ref}/replies", {"text": "More."}, key="new"),
        bot.post(f"/cases/{ref}/replies", {"text": "I am Bettine Zwaan."}, key="r"),
    ]
    assert [answer.status_code for answer in answers] == [410] * 4
    assert Case.objects.count() == 1
    assert not Report.objects.filter(story__contains="corners").exists()
    assert "Zwaan" not in json.dumps(list(SentKey.objects.values()), default=str)


def test_report_of_an_erased_case_is_not_taken_anew_after_the_purge(bot: Program) -> None:
    bot.report("k")
    erase(Case.objects.get().pk)
    SentKey.objects.all().delete()

    assert bot.report("k").status_code == 410


def test_words_no_database_holds_are_left_out(bot: Program) -> None:
    bot.post("/reports", {"text": "It\u0000 warps\u0008."}, key="k")

    assert Report.objects.get().story == "It warps."


def test_text_of_markup_stays_text(bot: Program) -> None:
    bot.post("/reports", {"text": f"<script>alert(1)</script> {TEXT}"}, key="k")

    assert Report.objects.get().story.startswith("<script>")
