"""The commands ``import_captions`` and ``train_segments``."""

import datetime
import json

import pytest
from django.core.management import call_command

from helpdesk.archive import engine
from helpdesk.archive.models import ArchivedShow
from helpdesk.archive.services import import_captions
from helpdesk.archive.training import list_corrected, measure_learning, score_starts
from helpdesk.core import clock
from tests.helpdesk.archive.shows import lines, vtt
from tests.triage.captions.shows import make_shows

pytestmark = pytest.mark.django_db


@pytest.fixture
def folder(tmp_path):
    """Give a folder with a show, a broken file and a file without a number."""
    (tmp_path / "show 3.vtt").write_bytes(vtt())
    (tmp_path / "show 4.srt").write_bytes(b"")
    (tmp_path / "notes.vtt").write_bytes(vtt())
    (tmp_path / "readme.txt").write_bytes(b"no captions")
    return tmp_path


def run(*words):
    """Run the command; return its exit status."""
    try:
        call_command("import_captions", *(str(word) for word in words))
    except SystemExit as end:
        return end.code
    return 0


def test_import_captions_prints_a_list_of_segments(folder, capsys):
    assert run(folder / "show 3.vtt", "--episode", 9, "--json") == 0

    segments = json.loads(capsys.readouterr().out)
    assert [s["episode"] for s in segments] == [9] * len(segments)
    assert segments[0]["start"] == 0
    assert {s["kind"] for s in segments} <= {"intro", "case", "notice", "outro"}
    assert all(s["start"] < s["end"] and s["title"] for s in segments)
    assert {"faults", "case"} <= segments[0].keys()


def test_import_captions_takes_a_folder_and_says_what_it_refused(folder, capsys):
    assert run("--folder", folder) == 1

    said = capsys.readouterr()
    assert "show 3.vtt: episode 3" in said.out
    assert "show 4.srt: refused" in said.err
    assert "notes.vtt: refused: The name tells no number" in said.err
    assert list(ArchivedShow.objects.values_list("number", flat=True)) == [3]


def test_import_captions_takes_a_list_with_facts(folder):
    listing = folder / "shows.csv"
    listing.write_text(
        "file,episode,title,date,link\n"
        "show 3.vtt,31,Corners,2024-03-07,https://stream.marrowlane.example/31\n"
    )

    assert run("--csv", listing) == 0

    show = ArchivedShow.objects.get(number=31)
    assert (show.title, show.on_date) == ("Corners", datetime.date(2024, 3, 7))


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("no-such-file.vtt", "--episode", "3"),
        ("--folder", "no-such-folder"),
        ("--csv", "no-such-list.csv"),
        ("--folder", ".", "--episode", "3"),
        ("--folder", ".", "--pattern", "("),
        ("--folder", ".", "--pattern", "ep"),
    ],
)
def test_import_captions_ends_with_2_when_it_is_not_understood(words, capsys):
    assert run(*words) == 2
    assert capsys.readouterr().err
    assert not ArchivedShow.objects.exists()


def test_import_captions_twice_says_that_it_is_unchanged(folder, capsys):
    run(folder / "show 3.vtt", "--episode", 9)

    assert run(folder / "show 3.vtt", "--episode", 9) == 0

    assert "unchanged" in capsys.readouterr().out


def corrected_shows(count):
    """Import shows whose parts are known, and put their segments right."""
    for number, show in enumerate(make_shows("learning", each=1, seed=5), 1):
        if number > count:
            return
        archived = import_captions(show.data, number=number, label=f"{number}.vtt").show
        cues = archived.captions.cues
        rows: dict[int, str] = {}
        for part in show.parts:
            first = next((n for n, cue in enumerate(cues) if cue[0] >= part.start_s - 0.5), None)
            if first is not None:
                rows[first if rows else 0] = part.kind
        ends = [*list(rows)[1:], None]
        archived.segments.all().delete()
        for place, ((first, kind), end) in enumerate(zip(rows.items(), ends, strict=True), 1):
            archived.segments.create(
                position=place,
                first_cue=first,
                start_s=cues[first][0],
                end_s=cues[end][0] if end else archived.captions.duration_s,
                kind=kind,
                title="As it was",
                confidence=1,
            )
        archived.checked_at = clock.now()
        archived.save()


def test_train_segments_measures_on_shows_held_out_and_keeps_what_is_asked(
    settings, tmp_path, capsys
):
    settings.DATA_DIR = tmp_path
    corrected_shows(3)

    call_command("train_segments", "--anyway")

    said = capsys.readouterr().out
    assert "3 shows, each cut by what was learned from others" in said
    assert "before: starts found" in said
    assert "after: starts found" in said
    assert engine.model_path().is_file()
    assert engine.get_model().shows == engine.first_model().shows + 3


def test_measure_learning_scores_are_shares(settings, tmp_path):
    settings.DATA_DIR = tmp_path
    corrected_shows(2)

    lesson = measure_learning(list_corrected())

    assert lesson.shows == 2
    for score in (lesson.before, lesson.after):
        assert 0 <= score.starts <= 1
        assert 0 < score.kinds <= 1


def test_train_segments_needs_two_corrected_shows(settings, tmp_path, capsys):
    settings.DATA_DIR = tmp_path
    import_captions(vtt(), number=7, label="7.vtt")

    call_command("train_segments")

    assert "needs 2 or more" in capsys.readouterr().out
    assert not engine.model_path().exists()


def test_a_broken_model_is_not_used(settings, tmp_path):
    settings.DATA_DIR = tmp_path
    engine.model_path().write_text("{")

    show = import_captions(vtt(lines()), number=7, label="7.vtt").show

    assert show.segments.exists()


def test_score_starts_counts_pairs_and_time():
    true = [(0, "intro"), (60, "case"), (120, "case")]

    assert score_starts(true, true, end_s=200).starts == 1
    half = score_starts([(0, "intro"), (66, "case")], true, end_s=200)
    assert half.starts == pytest.approx(2 / 3)
    assert half.kinds == pytest.approx(194 / 200)
    assert score_starts([(0, "case")], true, end_s=200).starts == 0


def test_score_starts_is_done_at_once_with_a_cue_of_a_hundred_years():
    true = [(0, "intro"), (60, "case")]

    score = score_starts([(0, "intro"), (64, "case")], true, end_s=3.2e9)

    assert score.starts == 1
    assert score.kinds == pytest.approx(1, abs=1e-6)
