"""Counts as values: merging, and their JSON."""

import json
from typing import Any

import pytest

from tests.triage.learning.samples import make_lesson, make_small
from tests.triage.networks import make_network
from triage.errors import InputError, OutOfRangeError
from triage.learning import Counts, Number, Skipped, Tally, learn

LINK = Number("link", ("f0", "e0"))


def test_counts_survive_json() -> None:
    """What is stored is what comes back, notes included."""
    knowledge = make_small()
    lessons = [
        make_lesson("a", findings={"e0": True, "e1": False}, remedies={"mend": True}),
        make_lesson("b", faults=frozenset({"f0", "f1"}), findings={"e0": True, "gone": True}),
    ]
    counts = learn(knowledge, lessons)

    stored = json.loads(json.dumps(counts.to_json()))

    assert Counts.from_json(stored, knowledge) == counts
    assert counts.skipped == (Skipped("b", "finding gone", "not in the knowledge"),)


def test_counts_merge_adds_tallies_and_keeps_notes() -> None:
    """Both parts are there, and neither part changed."""
    note = Skipped("x", "", "its verdict names no fault")
    first = Counts(2, {LINK: Tally(1.0, 0.5)}, (note,))
    second = Counts(3, {LINK: Tally(0.25, 2.0), Number("leak", ("e0",)): Tally(0.0, 1.0)})

    merged = first.merge(second)

    assert merged.lessons == 5
    assert merged.tallies[LINK] == Tally(1.25, 2.5)
    assert merged.tallies[Number("leak", ("e0",))] == Tally(0.0, 1.0)
    assert merged.skipped == (note,)
    assert first.tallies == {LINK: Tally(1.0, 0.5)}


def test_counts_merge_is_exact_where_no_credit_is_shared() -> None:
    """Absences have one reason only, so two parts give what the whole gives."""
    knowledge = make_small()
    lessons = [make_lesson(str(at), findings={"e0": False, "e1": False}) for at in range(6)]

    whole = learn(knowledge, lessons)
    parts = learn(knowledge, lessons[:2]).merge(learn(knowledge, lessons[2:]))

    assert parts == whole


def test_counts_of_an_older_knowledge_are_listed() -> None:
    """Numbers that are gone are noted with the nearest name; the rest stays."""
    counts = Counts(1, {LINK: Tally(1.0, 0.0), Number("link", ("f1", "e0")): Tally(1.0, 0.0)})
    smaller = make_network([0.2, 0.1], [0.05], {(0, 0): 0.8})

    read = Counts.from_json(counts.to_json(), smaller)

    assert dict(read.tallies) == {LINK: Tally(1.0, 0.0)}
    assert [(note.part, note.reason) for note in read.skipped] == [
        ("link f1 e0", "not in the knowledge; the nearest valid name is 'link f0 e0'")
    ]


def _stored(**overrides: object) -> dict[str, Any]:
    return {"form": 1, "lessons": 1, "tallies": {}, "skipped": []} | overrides


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ([], "counts must be a JSON object, not list"),
        (None, "counts must be a JSON object, not NoneType"),
        ({}, "form None is not understood; it must be 1"),
        (_stored(form=2), "form 2 is not understood; it must be 1"),
        (_stored(lessons=-1), "lessons -1 must be a whole number, 0 or more"),
        (_stored(lessons=True), "lessons True must be a whole number"),
        (_stored(lessons="3"), "lessons '3' must be a whole number"),
        (_stored(tallies=[]), "tallies must be a JSON object"),
        (_stored(tallies={"prior f0": 3}), r"'prior f0': 3 must be two numbers"),
        (_stored(tallies={"prior f0": [1]}), r"'prior f0': \[1\] must be two numbers"),
        (_stored(tallies={"prior f0": [1, "2"]}), "must be two numbers"),
        (_stored(tallies={"prior f0": [1, False]}), "must be two numbers"),
        (_stored(skipped=None), "skipped must be a list"),
        (_stored(skipped=[["a", "b"]]), "must be three texts"),
        (_stored(skipped=[["a", "b", 3]]), "must be three texts"),
    ],
)
def test_counts_refuse_another_shape(data: object, message: str) -> None:
    """The error says what stands there and what should."""
    with pytest.raises(InputError, match=message):
        Counts.from_json(data, make_small())


@pytest.mark.parametrize("pair", [[-1.0, 0.0], [0.0, float("nan")], [float("inf"), 1.0]])
def test_counts_refuse_impossible_tallies(pair: list[float]) -> None:
    """Nothing was seen less than never."""
    with pytest.raises(OutOfRangeError, match=r"'prior f0'.*must be finite and 0 or more"):
        Counts.from_json(_stored(tallies={"prior f0": pair}), make_small())


def test_no_counts_survive_json() -> None:
    """A desk that has learned nothing can say so."""
    assert Counts.from_json(Counts().to_json(), make_small()) == Counts()
