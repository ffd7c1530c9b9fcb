"""Cutting shows: shapes that always hold, hard files, and shows that must be found."""

import json
from functools import lru_cache
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.triage.captions.shows import Show, make_shows
from triage.captions import (
    Captions,
    CaptionSegment,
    CorrectedShow,
    Cue,
    PlannedPart,
    dump_cut_model,
    learn,
    load_cut_model,
    read_captions,
    read_cut_model,
    segment,
)
from triage.captions import _unplanned as unplanned
from triage.captions._cohesion import MOST_REPEATS, _list_repeats, weigh_cohesion
from triage.errors import CaptionError, InputError, OutOfRangeError
from triage.knowledge import Knowledge, load_knowledge
from triage.workings.segmentation import count_near, mark_gaps, window_diff


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return load_knowledge()


@lru_cache(maxsize=1)
def list_shows() -> tuple[Show, ...]:
    return tuple(make_shows("learning", each=1, seed=21))


def check_shape(captions: Captions, found: tuple[CaptionSegment, ...]) -> None:
    """Fail unless the parts cover the show without gap and say all that is said."""
    assert found[0].start_s == captions.cues[0].start_s
    assert found[-1].end_s == captions.duration_s
    for before, after in pairwise(found):
        assert before.end_s == after.start_s > before.start_s
    said = [word for cue in captions.cues for word in cue.text.split()]
    assert [word for part in found for word in part.text.split()] == said
    assert all(0.0 <= part.confidence <= 1.0 and part.title for part in found)


def test_learned_manners_are_cut_well(knowledge: Knowledge) -> None:
    """A floor far below the measured figures: see docs/archive.md."""
    hits = total = 0
    misses = []
    for show in list_shows():
        captions = read_captions(show.data)
        found = segment(captions, knowledge=knowledge)
        check_shape(captions, found)
        cases = [part.start_s for part in show.parts if part.kind == "case"]
        hits += count_near(cases, [part.start_s for part in found], within_s=15.0)
        total += len(cases)
        true = mark_gaps([part.start_s for part in show.parts], end_s=show.end_s)
        ours = mark_gaps([part.start_s for part in found], end_s=show.end_s)
        misses.append(window_diff(true, ours))

    assert hits > 0.5 * total
    assert np.mean(misses) < 0.25


def test_run_sheets_are_followed(knowledge: Knowledge) -> None:
    """Nearly every planned part starts where it is found, and takes kind and title of its plan."""
    near = total = 0
    for show in list_shows()[:4]:
        captions = read_captions(show.data)
        found = segment(captions, knowledge=knowledge, run_sheet=show.run_sheet)
        check_shape(captions, found)
        places = [part.part for part in found if part.part is not None]
        assert places == sorted(set(places))
        at = {part.part: part for part in found if part.part is not None}
        for at_place, part in at.items():
            planned = show.run_sheet[at_place]
            assert (part.kind, part.title) == (planned.kind, planned.slug)
        for true, place in zip(show.parts, show.sheet_at, strict=True):
            if place is not None:
                total += 1
                near += place in at and abs(at[place].start_s - true.start_s) <= 10.0

    assert near >= 0.8 * total


def test_a_noted_start_is_believed(knowledge: Knowledge) -> None:
    """Two parts without words of their own are parted where somebody noted it."""
    cues = tuple(Cue(4.0 * at, 4.0 * at + 4.0, "and it goes on and on") for at in range(60))
    sheet = [
        PlannedPart("case", "One", planned_s=120),
        PlannedPart("case", "Two", planned_s=120, started_s=88.0),
    ]

    found = segment(Captions(cues), knowledge=knowledge, run_sheet=sheet)

    assert [(part.title, part.start_s) for part in found] == [("One", 0.0), ("Two", 88.0)]


def test_a_script_is_known_by_its_opening_whatever_its_stops(knowledge: Knowledge) -> None:
    """All of the words are common ones: nothing else tells where the second part begins."""
    said = ["and it goes on and on"] * 60
    said[22] = "well hello there youre here now"
    cues = tuple(Cue(4.0 * at, 4.0 * at + 4.0, text) for at, text in enumerate(said))
    sheet = [
        PlannedPart("case", "One", planned_s=120),
        PlannedPart(
            "case", "Two", planned_s=120, script="Well, hello; there: you\u2019re, here, now."
        ),
    ]

    found = segment(Captions(cues), knowledge=knowledge, run_sheet=sheet)

    assert [(part.title, part.start_s) for part in found] == [("One", 0.0), ("Two", 88.0)]


def test_a_part_begins_where_its_report_is_told(knowledge: Knowledge) -> None:
    """A single word of the report in the talk before it, and one long after, draw it nowhere."""
    talk = ["kettle garden window", "ladder pigeon market", "river candle saddle", "copper basket"]
    said = ["lemon tractor feather"] * 4 + [talk[at % 4] for at in range(26)]
    said += ["dragon head", "layers shifted", "belt loose"] + [talk[at % 4] for at in range(47)]
    said[17], said[60] = "river dragon saddle", "dragon candle basket"
    cues = tuple(Cue(4.0 * at, 4.0 * at + 4.0, text) for at, text in enumerate(said))
    report = "dragon head layers shifted belt loose"
    sheet = [
        PlannedPart("case", "Tractor", words="lemon tractor feather", planned_s=120),
        PlannedPart("case", "Dragon", words=report, planned_s=200),
    ]

    found = segment(Captions(cues), knowledge=knowledge, run_sheet=sheet)

    assert [(part.title, part.start_s) for part in found] == [("Tractor", 0.0), ("Dragon", 120.0)]


def test_a_part_that_was_not_shown_is_left_out(knowledge: Knowledge) -> None:
    talk = {"bowl hairs between the walls": 0, "dragon lost its head layers shifted": 1}
    cues = tuple(Cue(4.0 * at, 4.0 * at + 4.0, list(talk)[at // 40]) for at in range(80))
    sheet = [
        PlannedPart("case", "Bowl", words="bowl hairs walls", planned_s=160),
        PlannedPart("case", "Cube", words="cube warping corner lifted plate", planned_s=160),
        PlannedPart("case", "Dragon", words="dragon head layers shifted", planned_s=160),
    ]

    found = segment(Captions(cues), knowledge=knowledge, run_sheet=sheet)

    assert [part.part for part in found] == [0, 2]
    assert found[1].start_s == 160.0


def test_one_cue_is_one_part(knowledge: Knowledge) -> None:
    captions = Captions((Cue(2.0, 3.0, "Hello."),))

    for sheet in (None, [], [PlannedPart("intro", "Hello")]):
        found = segment(captions, knowledge=knowledge, run_sheet=sheet)
        check_shape(captions, found)
        assert len(found) == 1


def test_cues_without_a_word_are_no_obstacle(knowledge: Knowledge) -> None:
    captions = Captions(tuple(Cue(at, at + 1.0, "\u266a \u266b") for at in range(200)))

    check_shape(captions, segment(captions, knowledge=knowledge))


def test_no_cues_are_refused(knowledge: Knowledge) -> None:
    with pytest.raises(CaptionError, match="no cues to cut"):
        segment(Captions(()), knowledge=knowledge)


def test_planned_parts_refuse_impossible_values() -> None:
    with pytest.raises(InputError, match="not 'tease'"):
        PlannedPart("tease", "Tease")  # type: ignore[arg-type]
    with pytest.raises(OutOfRangeError, match="planned 0 s"):
        PlannedPart("case", "Bowl", planned_s=0)
    with pytest.raises(OutOfRangeError, match="started at -1 s"):
        PlannedPart("case", "Bowl", started_s=-1)


texts = st.text(alphabet="ab .,'\n", max_size=20) | st.sampled_from(
    ["next up", "good luck", "PETG"]
)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0, 9000), st.floats(0.1, 20), texts), min_size=1, max_size=40),
    st.lists(st.sampled_from(["intro", "case", "notice", "outro"]), max_size=5),
)
def test_any_captions_are_cut(drafts: list[tuple[float, float, str]], kinds: list[str]) -> None:
    """Overlaps, gaps of hours, words without sense."""
    drafts.sort()
    cues = tuple(Cue(start, start + length, text) for start, length, text in drafts)
    unique = {cue.start_s: cue for cue in cues}
    captions = Captions(tuple(unique.values()))
    sheet = [PlannedPart(kind, kind) for kind in kinds]  # type: ignore[arg-type]

    check_shape(captions, segment(captions, knowledge=load_knowledge(), run_sheet=sheet))


def test_long_files_are_cut_in_windows(
    knowledge: Knowledge, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Small windows find about what one large window finds."""
    show = list_shows()[0]
    captions = read_captions(show.data)
    whole = [part.start_s for part in segment(captions, knowledge=knowledge)]
    monkeypatch.setattr(unplanned, "MOST_PLACES", 150)

    found = segment(captions, knowledge=knowledge)

    check_shape(captions, found)
    starts = [part.start_s for part in found]
    assert count_near(whole, starts, within_s=15.0) >= 0.7 * len(whole)


def test_work_grows_linearly_with_the_file(monkeypatch: pytest.MonkeyPatch) -> None:
    """Counted, not timed: repeats looked at, and places in the largest table of cohesion."""
    stems = ["bowl", "hair", "", "wall", "belt"] * 400
    places = list(range(len(stems)))
    once = len(_list_repeats(stems, places, 0.1)[0])
    twice = len(_list_repeats(stems * 2, places * 2, 0.1)[0])
    assert once <= MOST_REPEATS * len(stems)
    assert twice == pytest.approx(2 * once, rel=0.02)

    sizes: list[int] = []

    def count(*args: object) -> object:
        sizes.append(len(args[1]))  # type: ignore[arg-type]
        return weigh_cohesion(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(unplanned, "weigh_cohesion", count)
    monkeypatch.setattr(unplanned, "MOST_PLACES", 100)
    for hours in (1, 2):
        sizes.clear()
        cues = tuple(Cue(5.0 * at, 5.0 * at + 5.0, "bowl hair") for at in range(360 * hours))
        segment(Captions(cues), knowledge=load_knowledge())
        assert max(sizes) <= 100
        assert sum(sizes) <= 2 * len(cues)


def test_corrected_shows_make_the_true_cut_likelier(knowledge: Knowledge) -> None:
    """What was learned from one show of a manner is found in it afterwards."""
    show = list_shows()[2]
    captions = read_captions(show.data)
    starts = tuple((part.start_s, part.kind) for part in show.parts)
    model = load_cut_model()

    taught = learn(
        model, [CorrectedShow(captions, starts)], knowledge=knowledge, steps=12, penalty=0.1
    )

    cases = [start_s for start_s, kind in starts if kind == "case"]
    before, after = (
        count_near(
            cases,
            [p.start_s for p in segment(captions, knowledge=knowledge, model=one)],
            within_s=15.0,
        )
        for one in (model, taught)
    )
    assert after >= before
    assert after > 0.7 * len(cases)
    assert taught.shows == model.shows + 1


def test_learning_refuses_shows_that_make_no_sense(knowledge: Knowledge) -> None:
    model = load_cut_model()
    captions = Captions((Cue(0.0, 1.0, "Hello."), Cue(9.0, 10.0, "Bye.")))

    assert learn(model, [], knowledge=knowledge) is model
    with pytest.raises(InputError, match="each starting after the one before"):
        learn(model, [CorrectedShow(captions, ((5.0, "case"), (5.0, "case")))], knowledge=knowledge)
    with pytest.raises(InputError, match="a part is one of"):
        learn(
            model,
            [CorrectedShow(captions, ((0.0, "tease"),))],  # type: ignore[arg-type]
            knowledge=knowledge,
        )


def test_models_are_written_and_read() -> None:
    text = dump_cut_model(load_cut_model())

    assert dump_cut_model(read_cut_model(text)) == text
    broken = json.loads(text)
    del broken["boundary"]["case"]["pause"]
    for wrong in ("{", "{}", json.dumps(broken), text.replace("log_spread", "spread")):
        with pytest.raises(InputError, match="cannot be read"):
            read_cut_model(wrong)
    spread = json.loads(text)
    spread["log_spread"]["case"] = 0.0
    with pytest.raises(InputError, match="not above 0"):
        read_cut_model(json.dumps(spread))
