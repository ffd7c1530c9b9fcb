"""The demo: replayed through the desk's own services, at the times things happened."""

import datetime
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from django.core import mail
from django.core.management import CommandError, call_command
from PIL import Image

from helpdesk.accounts.models import User
from helpdesk.aftershow.models import Supporter
from helpdesk.aftershow.selectors import get_after_show
from helpdesk.answers.models import Answer
from helpdesk.archive.models import ArchivedShow
from helpdesk.cases.models import Case, CaseState, Event
from helpdesk.core import clock
from helpdesk.core.models import Job, JobState
from helpdesk.demo import data, shots
from helpdesk.demo.accounts import demo_password
from helpdesk.demo.data import moment, read_cases, read_episodes, read_people, read_supply
from helpdesk.demo.services import load_demo
from helpdesk.demo.steps import STEPS
from helpdesk.diagnosis.engine import cures_any, list_faults, list_findings
from helpdesk.diagnosis.models import DiagnosisRun, KnowledgeRevision, RevisionSwitch
from helpdesk.episodes.models import Episode, EpisodeState
from helpdesk.episodes.rates import rate_for
from helpdesk.photos.models import Photo, PhotoState
from helpdesk.search.models import SearchEntry
from helpdesk.supply.conditions import list_needs
from helpdesk.supply.models import Remark, RemarkKind, Statement, SubjectCase
from helpdesk.supply.notices import list_notice_needs
from helpdesk.supply.overview import list_public_notices
from helpdesk.supply.wording import check_wording
from tests.architecture.test_get_requests import dump
from triage.captions import read_captions

pytestmark = pytest.mark.django_db
FEW = """
[[case]]
key = "one"
days_ago = 6
at = "09:00"
title = "Tray with curled corners"
story = "The corners of my tray curl up from the plate after an hour."
person = "Bettine Halvorsen"
email = "bettine@tarnstreet.example"
facts = { process = "MEX", machine = "Tern 220", material = "ABS", material_maker = "Fennmoor" }
consent = { answer = true, photos = true }
photos = [{ scene = "corner-lift", seed = 1 }]
steps = [
  { do = "take", after_h = 1 },
  { do = "verdict", after_h = 2, faults = ["shrinkage-warp"] },
  { do = "answer", after_h = 3, words = "Thank you for the clear photo." },
  { do = "outcome", after_h = 60, result = "worked", words = "Flat now." },
  { do = "publish", after_h = 61, title = "Why do corners lift?" },
]

[[case]]
key = "two"
days_ago = 0
at = "23:59"
channel = "chat"
title = "Vase with hairs"
story = "There are fine hairs between the two towers of my vase."
handle = "hollow_oak"
handle_where = "the makers' chat"
reply_channel = "chat"
"""
SHOW = """
[[episode]]
number = 3
title = "Corners"
weeks_ago = 0
slot_s = 600
is_out = false
parts = [
  { kind = "hello", slug = "Hello", fixed_s = 20 },
  { case = "one", slug = "The tray", fixed_s = 60 },
]

[[episode]]
number = 2
title = "Rings"
weeks_ago = 1
slot_s = 600
is_out = true
captions = "2.vtt"
late_s = 5
off_air_s = 70
recording_offset_s = 10
parts = [
  { kind = "hello", slug = "Welcome", presenter = "Wren", started_s = 0.0, fixed_s = 20 },
  { kind = "farewell", slug = "Goodbye", presenter = "Wren", started_s = 30.5, fixed_s = 20 },
]
"""
SUPPLY = """
[[subject]]
kind = "maker"
name = "Fennmoor"

[[subject]]
kind = "product"
name = "Tern 220"
product_kind = "printer"

[[statement]]
subject = "Fennmoor"
case = "one"
after_h = 70
text = "On 1 spool, the strand measured 1.61 mm at three places."
shows = "The tray"
way = "form"
to = "Their form"

[[correction]]
subject = "Tern 220"
episode_number = 2
second = 20
after_days = 2
said = "word 140 and 20 follow"
text = "Another word follows."
who = "A viewer"

[[notice]]
subject = "Tern 220"
case = "one"
days_ago = 5
title = "Curled corners"
fault = "shrinkage-warp"
caution = ""
text = "On 1 printer, the corners of a tray lifted after an hour at 100 °C."
shows = "The lifted corners"
way = "form"
to = "Their form"
reply_days_ago = 4
reply = "We look into it."
reply_who = "The Tern workshop"
ready_days_ago = 3
"""
TIMED = "\n00:{0:02}:{1:02}.000 --> 00:{0:02}:{1:02}.900\nword {2} and {3} follow\n"
CAPTIONS = "WEBVTT\n" + "".join(
    TIMED.format(*divmod(second, 60), second, second * 7) for second in range(10, 80)
)
Quiet = Callable[[str], None]


@pytest.fixture
def few(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Put a small demo in place of the whole one."""
    scenes = sorted({p.scene for c in read_cases() for p in c.photos})
    for name in ("people.toml", "texts.toml", "supporters.csv"):
        (tmp_path / name).write_bytes((data.FOLDER / name).read_bytes())
    text = FEW.replace("corner-lift", scenes[0])
    (tmp_path / "cases_few.toml").write_text(text, encoding="utf-8")
    (tmp_path / "episodes.toml").write_text(SHOW, encoding="utf-8")
    (tmp_path / "supply.toml").write_text(SUPPLY, encoding="utf-8")
    (tmp_path / "captions").mkdir()
    (tmp_path / "captions" / "2.vtt").write_text(CAPTIONS, encoding="utf-8")
    monkeypatch.setattr(data, "FOLDER", tmp_path)


@pytest.fixture
def quiet() -> Quiet:
    """Return something that is told how far the loader is and says nothing."""
    return lambda words: None


def test_demo_is_replayed_through_the_services(few: None, quiet: Quiet) -> None:
    """Every effect of the real desk is there: diagnosis, photo, letters, index, episode."""
    load_demo(quiet)

    case = Case.objects.get(title="Tray with curled corners")
    assert case.state == CaseState.CLOSED
    assert DiagnosisRun.objects.filter(case=case).exists()
    assert Photo.objects.get(case=case).state == PhotoState.READY
    assert Photo.objects.get(case=case).alt_text
    assert "Thank you for the clear photo." in Answer.objects.get(case=case).sent_text
    assert Answer.objects.get(case=case).published_at
    assert [m.to for m in mail.outbox] == [["bettine@tarnstreet.example"]]
    assert SearchEntry.objects.count() == 2
    assert Episode.objects.get(number=3).state == EpisodeState.MAKING
    assert case.segments.get().slug == "The tray"
    assert not Job.objects.exclude(state=JobState.DONE).exists()
    assert KnowledgeRevision.objects.get().lesson_count == 1
    assert not RevisionSwitch.objects.exists()


def test_demo_airs_a_show_archives_it_and_learns_from_it(few: None, quiet: Quiet) -> None:
    """Real times count from going on air, the recording began earlier, rates are learnt."""
    load_demo(quiet)

    episode = Episode.objects.get(number=2)
    assert episode.state == EpisodeState.OUT
    assert episode.on_air_at == episode.starts_at + datetime.timedelta(seconds=5)
    after = get_after_show(episode)
    assert [part.at_s for part in after.parts] == [10, 40.5]
    assert after.is_sound
    shown = ArchivedShow.objects.get(number=2)
    assert shown.segments.exists()
    assert rate_for("Wren").is_measured
    assert Supporter.objects.filter(may_name=True).exists()


def test_demo_says_something_of_makers(few: None, quiet: Quiet) -> None:
    """One statement waits for a reply, one thing aired is corrected, one notice is public."""
    load_demo(quiet)

    statement = Statement.objects.get(case__isnull=False)
    (need,) = list_needs(statement)
    assert "Fennmoor was asked on" in need
    assert "may reply until" in need
    correction = Remark.objects.get(kind=RemarkKind.CORRECTION)
    assert (correction.episode_number, correction.second) == (2, 20)
    (shown,) = list_public_notices()
    assert list_notice_needs(shown.notice) == []
    assert (shown.share.hits, shown.share.of) == (1, 1)
    assert [reply.who for reply in shown.replies] == ["The Tern workshop"]
    assert len(shown.pictures) == 1
    # The case named the printer as it came in: nobody had to link it.
    assert not SubjectCase.objects.get(subject=shown.notice.subject).is_by_hand


def test_words_of_the_demo_on_makers_are_fit_to_be_said() -> None:
    """Its statements are neutral, and what it corrects was aired at that second."""
    subjects = read_supply("subject")
    assert {row["kind"] for row in subjects} == {"maker", "product", "batch"}
    for row in [*read_supply("statement"), *read_supply("notice")]:
        assert check_wording(row["text"]) == [], row["text"]
    keys = {case.key: case for case in read_cases()}
    for row in [*read_supply("statement"), *read_supply("notice")]:
        assert keys[row["case"]].consent["photos"]
    aired = {episode.number: episode for episode in read_episodes() if episode.captions}
    (correction,) = read_supply("correction")
    captions = read_captions(data.open_captions(aired[correction["episode_number"]].captions))
    second = correction["second"]
    said = " ".join(cue.text for cue in captions.cues if second <= cue.start_s < second + 30)
    assert correction["said"] in said


def test_captions_of_the_demo_fit_their_run_sheets() -> None:
    """Every part is spoken in, at a rate people speak at, and ends with the show."""
    aired = [episode for episode in read_episodes() if episode.captions]
    assert len(aired) == 3

    formats = []
    for episode in aired:
        captions = read_captions(data.open_captions(episode.captions))
        formats.append((captions.file_format, captions.is_automatic))
        assert not captions.problems
        offset_s = episode.recording_offset_s
        assert 12 * 60 <= captions.duration_s - offset_s <= 20 * 60
        starts = [part["started_s"] for part in episode.parts]
        assert starts == sorted(starts)
        for start_s, end_s in zip(starts, [*starts[1:], episode.off_air_s], strict=True):
            own = [c for c in captions.cues if start_s <= c.start_s - offset_s < end_s]
            words = sum(len(cue.text.split()) for cue in own)
            spoken_s = sum(cue.end_s - cue.start_s for cue in own)
            assert 150 <= words * 60 / spoken_s <= 250, (episode.number, start_s)
    assert sorted(formats) == [("subrip", False), ("webvtt", False), ("webvtt", True)]


def test_demo_happens_at_its_own_times(few: None, quiet: Quiet) -> None:
    """Events stand in the past, in order, none after the moment of loading."""
    load_demo(quiet)

    now = clock.now()
    times = list(Event.objects.filter(case__title__startswith="Tray").values_list("at", flat=True))
    assert times == sorted(times)
    assert times[-1] - times[0] >= datetime.timedelta(hours=60)
    assert not Event.objects.filter(at__gt=now).exists()


def test_demo_loaded_twice_adds_nothing(few: None, quiet: Quiet) -> None:
    """A second run leaves every row as it is."""
    load_demo(quiet)
    before = dump()
    letters = len(mail.outbox)

    load_demo(quiet)

    assert dump() == before
    assert len(mail.outbox) == letters


def test_demo_accounts_log_in_with_the_password_printed(few: None, quiet: Quiet) -> None:
    """Everybody has the role of the scenario and the password of this desk."""
    load_demo(quiet)

    for person in read_people():
        user = User.objects.get(username=person.username)
        assert user.check_password(demo_password())
        assert [g.name for g in user.groups.all()] == [person.role]


def test_demo_names_only_what_there_is() -> None:
    """Findings, faults, steps and cases named by the demo exist."""
    findings = {info.id for info in list_findings("")}
    faults = {info.id for info in list_faults("")}
    cases = read_cases()
    people = {p.username for p in read_people()}
    keys = [case.key for case in cases]

    assert len(keys) == len(set(keys))
    judged = {
        case.key: [f for what in case.steps if what.do == "verdict" for f in what.more["faults"]]
        for case in cases
    }

    for case in cases:
        for what in case.steps:
            assert what.do in STEPS, case.key
            assert what.who in people, case.key
            assert set(what.more.get("faults", [])) <= faults, case.key
            assert set(what.more.get("findings", [])) <= findings, case.key
            assert set(what.more.get("seen", {})) <= findings, case.key
            if what.do == "outcome" and "step" in what.more:
                assert cures_any(what.more["step"], judged[case.key]), case.key
            if what.do == "mark":
                assert what.more["finding"] in findings, case.key
    for episode in read_episodes():
        named = {part["case"] for part in episode.parts if "case" in part}
        assert named <= set(keys), episode.number


def test_demo_moment_is_never_later_than_now() -> None:
    """A case of today that would come in this evening has just come in."""
    now = datetime.datetime(2026, 11, 25, 12, 0, tzinfo=datetime.UTC)

    assert moment(now, 0, "23:59") < now
    assert moment(now, 1, "23:59") == datetime.datetime(2026, 11, 24, 23, 59, tzinfo=datetime.UTC)


def test_made_up_cases_are_found_and_listed() -> None:
    """The load for measuring has reports, search entries and a share of open cases."""
    call_command("make_cases", "120", stdout=None)

    assert Case.objects.count() == 120
    assert SearchEntry.objects.count() == 120
    assert Case.objects.exclude(state=CaseState.CLOSED).count() == 2
    assert all(case.reports.count() == 1 for case in Case.objects.all()[:5])


def test_shots_want_a_demo() -> None:
    """Without a demo the command says what to do first."""
    with pytest.raises(CommandError, match="Load the demo first"):
        call_command("take_shots")


def test_shot_is_made_small(tmp_path: Path) -> None:
    """A picture for the documents is cut and has few colours, so that it stays under its limit."""
    noise = np.random.default_rng(1).integers(0, 255, (600, 150, 3), dtype=np.uint8)
    out = BytesIO()
    Image.fromarray(noise).resize((600, 2400)).save(out, "PNG")

    size = shots.save_small(out.getvalue(), tmp_path / "a.png")

    with Image.open(tmp_path / "a.png") as made:
        assert made.height == shots.README_HEIGHT
    assert size == (tmp_path / "a.png").stat().st_size
    assert size < len(out.getvalue()) / 3
