"""Who can be asked what, and what answering costs them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.triage.networks import make_evidence, make_fault, make_finding
from tests.triage.strategies import PATIENT
from triage.errors import OutOfRangeError, UnknownIdError
from triage.inference import compute_posterior
from triage.knowledge import Finding, Knowledge, Link, build_knowledge, load_knowledge
from triage.questions import Respondent, check_respondent, choose_batch, rank_questions

KINDS = ("part", "machine", "sense", "measure", "circumstance")
TOOLS = ("calipers", "ruler")


def make_kinds() -> Knowledge:
    """Return one fault shown by a finding of each kind, without a tool and with each tool."""
    findings = [
        make_finding(f"{kind}-{tool or 'bare'}", kind=kind, needs=(tool,) if tool else ())
        for kind in KINDS
        for tool in (None, *TOOLS)
    ]
    return build_knowledge(
        faults=[make_fault("f0", prior=0.3)],
        findings=findings,
        links=[Link("f0", finding.id, 0.8, "memory") for finding in findings],
    )


KNOWLEDGE = make_kinds()
POSTERIOR = compute_posterior(KNOWLEDGE, make_evidence())
names = st.frozensets(st.sampled_from(list(KNOWLEDGE.findings)), max_size=4)
tools = st.frozensets(st.sampled_from(TOOLS))
respondents = st.builds(
    Respondent,
    process=st.sampled_from([None, "MEX", "VPP"]),
    tools=tools,
    refused=tools,
    has_print=st.booleans(),
    has_printer=st.booleans(),
    sends_photos=st.booleans(),
    on_photos=names,
    asked=names,
    round_trip_minutes=st.floats(0.0, 60.0),
)


def can_answer(person: Respondent, finding: Finding) -> bool:
    """Return whether somebody can answer, told once more in other words."""
    has_tools = not set(finding.needs) & person.refused
    sees_print = person.has_print or finding.kind in ("machine", "sense", "circumstance")
    remembers = finding.kind == "part" and not finding.needs
    sees_printer = person.has_printer or finding.kind in ("part", "sense", "circumstance")
    is_news = finding.id not in person.asked | person.on_photos
    return (
        has_tools
        and (sees_print or remembers)
        and sees_printer
        and is_news
        and person.process in (None, finding.process)
    )


@given(respondents)
@PATIENT
def test_nobody_is_asked_what_they_cannot_answer(person: Respondent) -> None:
    """Of all who may be asked, everybody gets every question they can answer and no other."""
    ranked = rank_questions(KNOWLEDGE, make_evidence(), POSTERIOR, respondent=person)
    batch = choose_batch(KNOWLEDGE, make_evidence(), POSTERIOR, respondent=person)

    able = {name for name, entry in KNOWLEDGE.findings.items() if can_answer(person, entry)}
    assert {question.finding for question in ranked} == able
    assert {entry.question.finding for entry in batch.questions} <= able
    assert bool(batch.questions) == bool(able)


@pytest.mark.parametrize(
    ("overrides", "respondent", "why"),
    [
        ({}, Respondent(asked=frozenset({"e0"})), "asked before"),
        ({}, Respondent(on_photos=frozenset({"e0"})), "on the photos"),
        ({"needs": ("ruler",)}, Respondent(refused=frozenset({"ruler"})), "tool refused"),
        ({"needs": ("ruler",)}, Respondent(has_print=False), "print is gone"),
        ({"kind": "measure"}, Respondent(has_print=False), "print is gone"),
        ({"kind": "machine"}, Respondent(has_printer=False), "printer is away"),
        ({"kind": "measure"}, Respondent(has_printer=False), "printer is away"),
        ({"kind": "measure", "looks_at": "print"}, Respondent(has_printer=False), None),
        ({"kind": "measure", "looks_at": "print"}, Respondent(has_print=False), "print is gone"),
        ({"kind": "measure", "looks_at": "printer"}, Respondent(has_print=False), None),
        (
            {"kind": "measure", "looks_at": "file"},
            Respondent(has_print=False, has_printer=False),
            None,
        ),
        ({"process": "VPP"}, Respondent(process="MEX"), "other process"),
        ({}, Respondent(has_print=False), None),
        ({"kind": "sense"}, Respondent(has_printer=False, has_print=False), None),
    ],
)
def test_the_reason_is_named(
    overrides: dict[str, object], respondent: Respondent, why: str | None
) -> None:
    """The desk can say why a question is not there."""
    assert respondent.obstacle(make_finding("e0", **overrides)) == why


@pytest.mark.parametrize(
    ("overrides", "respondent", "minutes"),
    [
        ({}, Respondent(), 2.0),
        ({}, Respondent(has_print=False), 4.0),
        ({}, Respondent(sends_photos=False), 4.0),
        ({"kind": "sense"}, Respondent(sends_photos=False), 2.0),
        ({"needs": ("calipers",)}, Respondent(), 5.0),
        ({"kind": "measure"}, Respondent(), 2.0),
        ({"kind": "measure", "needs": ("calipers",)}, Respondent(), 6.0),
        (
            {"kind": "measure", "needs": ("calipers",)},
            Respondent(tools=frozenset({"calipers"})),
            3.0,
        ),
    ],
)
def test_what_is_harder_to_answer_costs_more(
    overrides: dict[str, object], respondent: Respondent, minutes: float
) -> None:
    """Tools are searched for, measurements set up, lost prints remembered, sights put in words."""
    finding = make_finding("e0", **({"minutes": 2.0} | overrides))

    assert respondent.own_minutes(finding) == pytest.approx(minutes)


def test_somebody_who_stands_beside_you_is_asked_for_less() -> None:
    """Without a round trip a question costs its own minutes only."""
    here = Respondent(round_trip_minutes=0.0)

    near = rank_questions(KNOWLEDGE, make_evidence(), POSTERIOR, respondent=here)[0]
    far = rank_questions(KNOWLEDGE, make_evidence(), POSTERIOR)[0]

    assert near.cost_minutes == near.asking_minutes
    assert far.cost_minutes == far.asking_minutes + Respondent().round_trip_minutes


def test_names_are_checked_against_the_knowledge() -> None:
    """An unknown tool, finding or process is named with the nearest valid one."""
    with pytest.raises(UnknownIdError, match="tool 'caliper'; the nearest valid name is 'calipers"):
        check_respondent(KNOWLEDGE, Respondent(refused=frozenset({"caliper"})))
    with pytest.raises(UnknownIdError, match="finding 'part-bear'"):
        check_respondent(KNOWLEDGE, Respondent(asked=frozenset({"part-bear"})))
    with pytest.raises(UnknownIdError, match="process 'MEXX'; the nearest valid name is 'MEX'"):
        check_respondent(KNOWLEDGE, Respondent(process="MEXX"))
    check_respondent(KNOWLEDGE, Respondent(process="MEX", tools=frozenset(TOOLS)))


@pytest.mark.parametrize("minutes", [-1.0, float("inf"), float("nan")])
def test_a_round_trip_is_a_time(minutes: float) -> None:
    """Neither negative nor endless."""
    with pytest.raises(OutOfRangeError, match="must be 0 or more, finite"):
        Respondent(round_trip_minutes=minutes)


def test_every_measurement_of_the_knowledge_says_what_it_looks_at() -> None:
    """Somebody whose print is gone is still asked about settings, files and the printer."""
    findings = load_knowledge().findings.values()

    vague = [entry.id for entry in findings if entry.kind == "measure" and not entry.looks_at]

    assert vague == ["bands-match-heater-cycle"]  # which needs both
