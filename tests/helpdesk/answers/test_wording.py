"""What a draft says."""

from dataclasses import replace

from helpdesk.answers.advice import gather_advice
from helpdesk.answers.letters import make_letter, split_body
from helpdesk.answers.wording import write_body
from helpdesk.cases.models import Case
from tests.factories import make_case
from tests.helpdesk.answers.conftest import SetView, confirm


def _sections(case: Case) -> dict[str, str]:
    body = write_body(case, gather_advice(case))
    sections: dict[str, str] = {}
    for paragraph in split_body(body):
        words = sections.get(paragraph.section, "")
        sections[paragraph.section] = f"{words}\n{paragraph.words}".strip()
    return sections


def test_draft_from_a_verdict_says_it_plainly(case: Case) -> None:
    """A confirmed fault is stated, with signs, first step and the rest of the plan."""
    confirm(case, "draughty-room")

    sections = _sections(case)

    assert sections[""].startswith("Hello Bettine,")
    assert sections["What we see"] == "Corners have lifted."
    assert sections["Why it happens"] == (
        "The corners cool too fast. Plastic shrinks as it cools, and a cold corner pulls first."
    )
    assert sections["Do this first"] == (
        "Close the window. Keep the draught away from the printer."
    )
    assert "1. Warm the plate. Set the plate 5 °C higher. Allow 2 hours" in sections["Then"]


def test_draft_without_a_verdict_says_that_it_is_a_suspicion(case: Case) -> None:
    """The strongest suspicion is not sold as knowledge."""
    assert _sections(case)["Why it happens"].startswith("We are not certain yet.")


def test_draft_does_not_sell_an_unlikely_fault_as_what_fits_best(
    case: Case, set_view: SetView
) -> None:
    """The strongest of many weak suspicions is no answer."""
    [suspect] = set_view().suspects
    set_view(suspects=(replace(suspect, probability=0.19),))

    assert _sections(case)["Why it happens"].startswith("We do not know yet")


def test_draft_without_any_suspicion_says_so(case: Case, set_view: SetView) -> None:
    """With nothing known the draft does not guess."""
    set_view(suspects=(), findings=(), plan=())

    sections = _sections(case)

    assert sections["Why it happens"].startswith("We do not know yet")
    assert "Please send us a photo" in sections["Do this first"]


def test_draft_names_the_remedy_of_a_verdict_the_plan_does_not_reach(case: Case) -> None:
    """The reviewer knows better than the engine: its remedies for other faults are not sent."""
    confirm(case, "loose-belt")

    advice = gather_advice(case)

    assert [step.id for step in advice.steps] == ["tighten-belt"]


def test_draft_puts_all_safety_steps_into_the_first_section(case: Case, set_view: SetView) -> None:
    """Safety stays first, and the first real step follows it at once."""
    set_view(danger=True)

    first = _sections(case)["Do this first"]

    assert first.index("Switch off and unplug") < first.index("Close the window")


def test_letter_begins_with_the_danger(case: Case, set_view: SetView) -> None:
    """Nothing stands above the caution of a danger, not even the greeting."""
    set_view(danger=True)
    advice = gather_advice(case)

    letter = make_letter(write_body(case, advice), advice.cautions)

    assert letter.text.startswith(
        "Before anything else: Please switch off at the wall and unplug the printer now."
    )
    assert letter.text.index("What to be careful about:\n- The plate is hot") > 0


def test_danger_is_not_said_twice_by_its_step(case: Case, set_view: SetView) -> None:
    """The caution of a raised danger covers the same caution of a safety step."""
    set_view(danger=True)

    cautions = gather_advice(case).cautions

    assert [c.id for c in cautions] == ["danger:hot-plug", "hot-plate"]


def test_draft_thanks_a_forwarder_for_passing_it_on(case: Case) -> None:
    """Somebody else's print is not called theirs."""
    forwarded = make_case(is_own_print=False)

    assert "passing this print on" in _sections(forwarded)[""]
    assert "your print" not in _sections(forwarded)[""]
