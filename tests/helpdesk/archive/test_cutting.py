"""Segments as stretches of cues, without a database."""

from helpdesk.archive.cutting import Draft, keep_corrections, lay_out, pin_case
from helpdesk.archive.values import CueLine, CutSegment
from helpdesk.core import clock

CUES = [CueLine(n * 10.0, n * 10.0 + 9, f"line {n}") for n in range(20)]


def draft(first_cue, title="", **more):
    return Draft(first_cue=first_cue, kind="case", title=title, **more)


def begun(drafts):
    return [(d.first_cue, d.title) for d in drafts]


def test_lay_out_drops_starts_that_fall_on_the_same_line():
    cut = [CutSegment(s, "case", "x", None, 0.9) for s in (4.0, 51.0, 58.0, 100.0)]

    assert [d.first_cue for d in lay_out(CUES, cut, [])] == [0, 6, 10]


def test_pin_case_stands_in_for_a_start_nearby():
    found = pin_case([draft(0, "a"), draft(6, "b"), draft(12, "c")], CUES, 74.0, 5, "Vase")

    assert begun(found) == [(0, "a"), (7, "Vase"), (12, "c")]
    assert found[1].case_id == 5


def test_pin_case_keeps_the_words_before_an_early_case():
    assert begun(pin_case([draft(0, "a")], CUES, 11.0, 5, "Vase")) == [(0, "a"), (1, "Vase")]
    assert begun(pin_case([draft(0, "a")], CUES, 0.0, 5, "Vase")) == [(0, "Vase")]


def test_pin_case_keeps_two_cases_that_are_close():
    once = pin_case([draft(0, "a")], CUES, 100.0, 5, "Vase")

    assert begun(pin_case(once, CUES, 110.0, 6, "Box")) == [(0, "a"), (10, "Vase"), (11, "Box")]


def test_keep_corrections_puts_a_segment_back_whole():
    old = [draft(0, "a"), draft(5, "told", corrected_at=clock.now()), draft(15, "z")]
    new = [draft(0, "A", suspects=[]), draft(4, "B"), draft(8, "C")]

    kept = keep_corrections(new, CUES, old, CUES)

    assert begun(kept) == [(0, "A"), (4, "B"), (5, "told"), (15, "C")]
    assert all(d.suspects is None for d in kept)


def test_a_draft_reads_back_from_its_plain_values():
    whole = draft(3, "x", case_id=4, suspects=[["a", "b", 0.5]], corrected_at=clock.now())

    assert Draft.from_json(whole.to_json()) == whole
