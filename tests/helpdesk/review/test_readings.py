"""One tap says that words were misread, or read rightly after all; what was said is kept."""

import pytest
from django.test import Client
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case
from helpdesk.diagnosis.models import ReadingCorrection
from helpdesk.diagnosis.selectors import get_view, list_corrections
from helpdesk.diagnosis.services import diagnose_case, erase_corrections, mark_finding
from helpdesk.diagnosis.values import ReadingView
from tests.factories import make_case

pytestmark = pytest.mark.django_db
STORY = (
    "The corners curl up from the plate and there are fine hairs between the towers. It was PLA. "
    "I dried the filament but nothing changed. I fitted a new nozzle last week. "
    "I suspect it is wet filament. Nozzle at 215 C."
)
DANGER = "The plug of the printer got brown and smells burnt."
FRAGMENT = {"HX-Request": "true"}


@pytest.fixture
def case(db: None) -> Case:
    """Return a case the engine has looked at."""
    found = make_case(story=STORY)
    diagnose_case(found.pk, cause="test")
    return found


def lines_of(case: Case) -> tuple[ReadingView, ...]:
    """Return what the page lists as read."""
    view = get_view(case)
    assert view is not None
    return view.readings


def say(client: Client, case: Case, line: ReadingView, word: str) -> str:
    """Press the button of one reading; return what comes back."""
    response = client.post(
        reverse("review:correct_reading", args=[case.pk]),
        {"kind": line.about, "name": line.name, "say": word},
        headers=FRAGMENT,
    )
    assert response.status_code == 200
    return response.content.decode()


def note(client: Client, case: Case, *, status: int = 200, **data: str) -> str:
    """Send the form that notes what words say; return what comes back."""
    sent = {"noted": "hairs between the towers", "finding": "popping-sounds", "say": "present"}
    response = client.post(
        reverse("review:note_words", args=[case.pk]), sent | data, headers=FRAGMENT
    )
    assert response.status_code == status
    return response.content.decode()


def evidence_of(case: Case, about: str) -> list[str]:
    """Return the ids of what counts in the latest run, by the kind of evidence."""
    result = case.runs.latest("pk").result
    if about == "risk":
        return list(result["risks"])
    if about == "fact":
        return [fact["field"] for fact in result["facts"]]
    reasons = [reason for suspect in result["suspects"] for reason in suspect["reasons"]]
    return [reason["finding"] for reason in reasons if reason["kind"] == about]


def tap(client: Client, case: Case, state: str) -> str:
    """Press the button of the reading about the corners; return what comes back."""
    response = client.post(
        reverse("review:mark_finding", args=[case.pk]),
        {"finding": "corners-lifted", "state": state},
        headers=FRAGMENT,
    )
    assert response.status_code == 200
    return response.content.decode()


def test_everything_read_has_its_button(client: Client, reviewer: User, case: Case) -> None:
    client.force_login(reviewer)

    page = client.get(case.get_absolute_url()).content.decode()

    read = lines_of(case)
    assert {line.about for line in read} == {"finding", "risk", "tried", "guess", "fact"}
    assert all(f'name="name" value="{line.name}"' in page for line in read)
    assert page.count("Not so<span") == len(read)


def test_who_only_produces_cannot_correct(client: Client, producer: User, case: Case) -> None:
    client.force_login(producer)

    assert "Not so<span" not in client.get(case.get_absolute_url()).content.decode()


def test_not_so_withdraws_the_reading_and_is_kept_with_its_words(
    client: Client, reviewer: User, case: Case
) -> None:
    client.force_login(reviewer)

    answer = tap(client, case, "unknown")

    assert "Corners have lifted from the plate: present, overruled since" in answer
    view = get_view(case)
    assert view is not None
    line = next(line for line in view.readings if line.finding == "corners-lifted")
    assert line.is_overruled
    kept = list_corrections().get()
    assert (kept.name, kept.state, kept.is_right) == ("corners-lifted", "present", False)
    assert kept.said_by == reviewer
    assert STORY[kept.start : kept.end] == kept.quote == "corners curl"


def test_so_after_all_turns_the_correction_round(
    client: Client, reviewer: User, case: Case
) -> None:
    client.force_login(reviewer)
    tap(client, case, "unknown")

    tap(client, case, "present")

    kept = ReadingCorrection.objects.get()
    assert kept.is_right
    view = get_view(case)
    assert view is not None
    line = next(line for line in view.readings if line.finding == "corners-lifted")
    assert not line.is_overruled


def test_marks_that_say_nothing_of_a_reading_are_no_corrections(reviewer: User, case: Case) -> None:
    """The person may be mistaken though read rightly; and some findings were not read at all."""
    mark_finding(case, "corners-lifted", "absent", actor=reviewer)
    mark_finding(case, "popping-sounds", "present", actor=reviewer)
    mark_finding(case, "strings-between-parts", "present", source="person")

    assert not ReadingCorrection.objects.exists()


@pytest.mark.parametrize("about", ["risk", "tried", "guess", "fact"])
def test_what_was_misread_no_longer_counts_and_may_come_back(
    client: Client, reviewer: User, case: Case, about: str
) -> None:
    client.force_login(reviewer)
    line = next(line for line in lines_of(case) if line.about == about and line.name != "process")
    name = line.name
    assert name in evidence_of(case, about)

    answer = say(client, case, line, "wrong")

    assert f"Misread: {line.label}" in answer
    assert name not in evidence_of(case, about)
    taken_back = next(
        new for new in lines_of(case) if (new.about, new.name) == (line.about, line.name)
    )
    assert taken_back.is_overruled
    kept = list_corrections().get()
    assert (kept.kind, kept.name, kept.is_right, kept.is_missed) == (about, line.name, False, False)
    assert kept.said_by == reviewer
    assert STORY[kept.start : kept.end] == kept.quote == line.quote
    assert case.events.filter(kind="reading").get().actor == reviewer

    say(client, case, taken_back, "right")

    assert name in evidence_of(case, about)
    assert list_corrections().get().is_right
    assert not any(new.is_overruled for new in lines_of(case))


def test_the_same_press_twice_is_one_correction(client: Client, reviewer: User, case: Case) -> None:
    client.force_login(reviewer)
    line = next(line for line in lines_of(case) if line.about == "tried")

    say(client, case, line, "wrong")
    say(client, case, line, "wrong")

    assert case.events.filter(kind="reading").count() == 1
    assert ReadingCorrection.objects.count() == 1


def test_danger_that_was_misread_leaves_the_head_of_the_page_and_the_queue(
    client: Client, reviewer: User
) -> None:
    case = make_case(story=DANGER)
    diagnose_case(case.pk, cause="test")
    client.force_login(reviewer)
    case.refresh_from_db()
    assert case.danger_name

    for line in [line for line in lines_of(case) if line.about == "danger"]:
        say(client, case, line, "wrong")

    case.refresh_from_db()
    assert case.danger_name == ""
    assert 'class="danger"' not in client.get(case.get_absolute_url()).content.decode()

    say(client, case, next(line for line in lines_of(case) if line.about == "danger"), "right")

    case.refresh_from_db()
    assert case.danger_name


def test_fact_that_was_misread_is_not_offered_to_keep(client: Client, reviewer: User) -> None:
    case = make_case(story="Nozzle at 215 C and the corners curl.", facts={"process": "MEX"})
    diagnose_case(case.pk, cause="test")
    client.force_login(reviewer)
    assert "215 °C" in client.get(case.get_absolute_url()).content.decode()
    line = next(line for line in lines_of(case) if line.name == "nozzle_c")

    answer = say(client, case, line, "wrong")

    assert 'id="case-read-facts"' in answer
    assert "nozzle 215 °C" not in answer
    client.post(reverse("review:read_facts", args=[case.pk]))
    case.refresh_from_db()
    assert case.nozzle_c is None


@pytest.mark.parametrize(
    "data",
    [
        {"kind": "tried", "name": "no-such-remedy", "say": "wrong"},
        {"kind": "noted", "name": "corners-lifted", "say": "wrong"},
        {"kind": "", "name": "", "say": "right"},
    ],
)
def test_what_is_not_read_cannot_be_corrected(
    client: Client, reviewer: User, case: Case, data: dict[str, str]
) -> None:
    client.force_login(reviewer)

    response = client.post(reverse("review:correct_reading", args=[case.pk]), data)

    assert response.status_code == 409
    assert "reads nothing of that kind" in response.content.decode()
    assert not ReadingCorrection.objects.exists()


@pytest.mark.parametrize("name", ["correct_reading", "note_words"])
def test_words_nobody_offers_are_refused(
    client: Client, reviewer: User, case: Case, name: str
) -> None:
    client.force_login(reviewer)

    response = client.post(reverse(f"review:{name}", args=[case.pk]), {"say": "perhaps"})

    assert response.status_code == 400


def test_without_script_a_press_leads_back_to_the_readings(
    client: Client, reviewer: User, case: Case
) -> None:
    client.force_login(reviewer)
    line = next(line for line in lines_of(case) if line.about == "risk")
    data = {"kind": line.about, "name": line.name, "say": "wrong"}

    response = client.post(reverse("review:correct_reading", args=[case.pk]), data)

    assert response.headers["Location"] == f"{case.get_absolute_url()}#case-readings"


def test_words_the_desk_missed_count_as_if_they_had_been_read(
    client: Client, reviewer: User, case: Case
) -> None:
    client.force_login(reviewer)

    answer = note(client, case, noted="HAIRS  between\nthe towers")

    assert "noted by us" in answer
    view = get_view(case)
    assert view is not None
    known = next(finding for finding in view.findings if finding.id == "popping-sounds")
    assert (known.state, known.source, known.quote) == (
        "present",
        "text",
        "hairs between the towers",
    )
    assert known.sureness is not None
    kept = list_corrections().get()
    assert (kept.kind, kept.name, kept.state) == ("finding", "popping-sounds", "present")
    assert kept.is_missed
    assert kept.said_by == reviewer
    assert STORY[kept.start : kept.end] == kept.quote == "hairs between the towers"


def test_what_was_noted_can_be_taken_back(client: Client, reviewer: User, case: Case) -> None:
    client.force_login(reviewer)
    before = case.runs.latest("pk").result
    note(client, case)

    note(client, case, say="nothing")

    assert case.runs.latest("pk").result == before
    assert not ReadingCorrection.objects.exists()
    assert [event.what.split(":")[0] for event in case.events.filter(kind="reading")] == [
        "Noted in their words",
        "Taken back what was noted",
    ]


def test_unknown_under_weigh_takes_a_note_back_too(
    reviewer: User, client: Client, case: Case
) -> None:
    client.force_login(reviewer)
    note(client, case)

    mark_finding(case, "popping-sounds", "unknown", actor=reviewer)

    view = get_view(case)
    assert view is not None
    assert [f.state for f in view.findings if f.id == "popping-sounds"] == ["unknown"]
    assert not ReadingCorrection.objects.exists()


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"noted": "the moon is made of cheese"}, "do not stand in the report"),
        ({"noted": " .,; "}, "do not stand in the report"),
        ({"noted": "x" * 501}, "500 characters at most"),
        ({"finding": "no such thing at all"}, "The desk knows no finding"),
    ],
)
def test_words_that_do_not_fit_are_refused_and_kept_in_the_form(
    client: Client, reviewer: User, case: Case, data: dict[str, str], words: str
) -> None:
    client.force_login(reviewer)

    answer = note(client, case, status=422, **data)

    assert words in answer
    assert next(iter(data.values())).strip() in answer
    assert not ReadingCorrection.objects.exists()


def test_erasing_leaves_judgements_without_words(
    client: Client, reviewer: User, case: Case
) -> None:
    client.force_login(reviewer)
    note(client, case)
    say(client, case, next(line for line in lines_of(case) if line.about == "tried"), "wrong")

    erase_corrections(case)

    assert not list_corrections().exists()
    kept = ReadingCorrection.objects.values_list("quote", "start", "end")
    assert list(kept) == [("", None, None)] * 2


def test_the_page_says_that_a_language_is_not_read(client: Client, reviewer: User) -> None:
    case = make_case(story="Die Ecken meiner Schachtel lösen sich nach einer Stunde vom Druckbett.")
    diagnose_case(case.pk, cause="test")
    client.force_login(reviewer)

    page = client.get(case.get_absolute_url()).content.decode()

    assert "Written in German; only English is read." in page
    assert "Nothing the desk knows stands in these words" not in page


def test_words_of_the_question_beside_it_are_not_taken_for_noted_ones(
    client: Client, reviewer: User, case: Case
) -> None:
    """The form of the question goes along with every press, so that nothing typed is lost."""
    client.force_login(reviewer)

    note(client, case, words="Could you look at the belt?")

    assert list_corrections().get().quote == "hairs between the towers"
