"""Which lessons can be used, and what is said of the others."""

import pytest

from tests.triage.learning.samples import make_lesson, make_small
from tests.triage.networks import make_fault, make_finding
from triage.errors import InputError
from triage.knowledge import Link, Material, build_knowledge
from triage.learning import Counts, Lesson, Number, learn


def _reasons(*lessons: Lesson) -> list[tuple[str, str, str]]:
    counts = learn(make_small(), lessons)
    return [(note.lesson, note.part, note.reason) for note in counts.skipped]


def test_lesson_refuses_an_unknown_basis() -> None:
    """The message lists what may stand there and the nearest."""
    with pytest.raises(InputError, match=r"basis 'cure'.*cured, confirmed.*nearest.*'cured'"):
        make_lesson(basis="cure")


def test_no_lessons_teach_nothing() -> None:
    """A new desk has no counts."""
    assert learn(make_small(), []) == Counts()


@pytest.mark.parametrize(
    ("overrides", "reason"),
    [
        ({"faults": frozenset()}, "its verdict names no fault"),
        (
            {"faults": frozenset({"f00"})},
            "unknown fault 'f00'; the nearest valid name is 'f0'",
        ),
        ({"process": "MEXX"}, "unknown process 'MEXX'; the nearest valid name is 'MEX'"),
        (
            {"process": "VPP"},
            "fault 'f0' cannot occur in this process, material or machine",
        ),
    ],
)
def test_lesson_is_skipped_whole(overrides: dict[str, object], reason: str) -> None:
    """One note, and no count."""
    counts = learn(make_small(), [make_lesson(**({"findings": {"e0": True}} | overrides))])

    assert [(note.part, note.reason) for note in counts.skipped] == [("", reason)]
    assert (counts.lessons, dict(counts.tallies)) == (0, {})


def test_lesson_loses_only_what_the_knowledge_lacks() -> None:
    """The known finding still counts."""
    lesson = make_lesson(
        findings={"e0": True, "e9": True},
        risks=("damp", "dampp"),
        remedies={"mendd": True},
        material="PLAA",
        machine="nova",
    )

    counts = learn(make_small(), [lesson])

    assert counts.lessons == 1
    assert Number("link", ("f0", "e0")) in counts.tallies
    assert [note.part for note in counts.skipped] == [
        "finding e9",
        "remedy mendd",
        "material PLAA",
        "machine nova",
        "risk dampp",
    ]
    assert counts.skipped[-1].reason == "not in the knowledge; the nearest valid name is 'damp'"


def test_lesson_counts_once() -> None:
    """A case handed in twice teaches once."""
    lesson = make_lesson(findings={"e0": True})

    assert _reasons(lesson, lesson) == [("case-1", "", "this lesson came before")]
    assert learn(make_small(), [lesson, lesson]).tallies == learn(make_small(), [lesson]).tallies


def test_lesson_without_process_takes_that_of_its_faults() -> None:
    """Faults of one process tell it, faults of two contradict each other, and any tells nothing."""
    knowledge = build_knowledge(
        faults=[
            make_fault("m"),
            make_fault("v", process="VPP"),
            make_fault("a", process="any"),
            make_fault("n", never_materials=("PLA",)),
        ],
        findings=[make_finding("e0"), make_finding("ev", process="VPP")],
        links=[Link("m", "e0", 0.5, "memory")],
        materials=[Material("PLA", "Polylactide", "MEX", (), "memory")],
    )

    def lesson(name: str, *faults: str, **rest: object) -> Lesson:
        return make_lesson(name, process=None, faults=frozenset(faults), **rest)

    counts = learn(
        knowledge,
        [
            lesson("told", "m", findings={"e0": True, "ev": True}),
            lesson("torn", "m", "v"),
            lesson("open", "a", findings={"e0": True}),
            lesson("never", "n", material="PLA"),
        ],
    )

    assert counts.lessons == 2
    assert {name.ids[0] for name in counts.tallies if name.kind == "prior"} == {"m", "a", "n"}
    assert counts.tallies[Number("prior", ("a",))].successes == 0.0
    assert [(note.lesson, note.part, note.reason) for note in counts.skipped] == [
        ("told", "finding ev", "belongs to another process"),
        ("torn", "", "its faults belong to different processes"),
        ("never", "", "fault 'n' cannot occur in this process, material or machine"),
    ]
