"""Plans for real cases: safety first, checks that pay, remedies by success over cost."""

import numpy as np
import pytest

from tests.triage.networks import make_action, make_evidence, make_fault, make_finding
from triage.evidence import Evidence, Observation, TriedRemedy
from triage.inference import compute_joint, compute_posterior, list_fault_sets
from triage.knowledge import Action, Caution, Danger, Knowledge, Link, build_knowledge
from triage.repair import LAST_RESORT_MINUTES, Plan, plan_repair

SAFETY = make_action("unplug", kind="safety", process="any", minutes=1.0, cautions=("plug-out",))


def make_clinic(*actions: Action, leak: float = 0.05, check_link: float = 0.9) -> Knowledge:
    """Return four faults, one of them dangerous, and the actions given."""
    return build_knowledge(
        faults=[
            make_fault("clog", prior=0.3),
            make_fault("wet", prior=0.2),
            make_fault("loose", prior=0.1),
            make_fault("scorch", process="any", prior=0.01),
        ],
        findings=[
            make_finding("thin", leak=leak),
            make_finding("pops", leak=leak),
            make_finding("brown", process="any", leak=0.001, danger="burn"),
        ],
        links=[
            Link("clog", "thin", check_link, "memory"),
            Link("wet", "pops", check_link, "memory"),
            Link("loose", "thin", 0.3, "memory"),
            Link("scorch", "brown", 0.8, "memory"),
        ],
        actions=actions,
        cautions=[Caution("plug-out", "Unplug it.", danger=True), Caution("hot", "It is hot.")],
        dangers=[
            Danger("burn", "Burn", "Unplug it now.", "plug-out"),
            Danger("heat", "Heat", "Let it cool.", "hot"),
        ],
    )


def plan_for(knowledge: Knowledge, evidence: Evidence | None = None, **options: object) -> Plan:
    """Return the plan for a case."""
    evidence = evidence or make_evidence()
    posterior = compute_posterior(knowledge, evidence)
    return plan_repair(knowledge, posterior, evidence=evidence, **options)  # type: ignore[arg-type]


def names(plan: Plan) -> list[str]:
    """Return the actions of a plan, in order."""
    return [step.action for step in plan.steps]


CLEAN = make_action("clean", minutes=10.0, cures={"clog": 0.8})
DRY = make_action("dry", minutes=4.0, wait_minutes=100.0, cures={"wet": 0.9})
TIGHTEN = make_action("tighten", minutes=2.0, cures={"loose": 0.9})


def test_remedies_are_ordered_by_success_over_cost() -> None:
    """0.09/2, 0.24/10 and 0.18/14, waiting counted at a tenth."""
    plan = plan_for(make_clinic(CLEAN, DRY, TIGHTEN))

    assert names(plan) == ["tighten", "clean", "dry"]
    successes = [step.success for step in plan.steps]
    assert successes == pytest.approx([0.09, 0.24, 0.18])
    assert plan.steps[2].wait_minutes == 100.0


def test_expected_minutes_and_cure_follow_the_failures_before() -> None:
    """A remedy is paid for only as far as the ones before it failed."""
    plan = plan_for(make_clinic(CLEAN, DRY, TIGHTEN))

    reached = 0.91 * 0.76
    assert plan.expected_minutes == pytest.approx(2.0 + 0.91 * 10.0 + reached * 4.0)
    assert plan.expected_wait_minutes == pytest.approx(reached * 100.0)
    assert [step.reached for step in plan.steps] == pytest.approx([1.0, 0.91, reached])
    left = reached * 0.82
    assert plan.last_resort.reached == pytest.approx(left)
    cost = 2.0 + 0.91 * 10.0 + reached * 14.0 + left * LAST_RESORT_MINUTES
    assert plan.expected_cost == pytest.approx(cost)
    cured = [step.cured_so_far for step in plan.steps]
    assert cured == pytest.approx([0.09, 1 - 0.91 * 0.76, 1 - 0.91 * 0.76 * 0.82])


def test_success_is_recomputed_after_a_failure() -> None:
    """A second remedy for the same fault is worth less once the first has failed."""
    again = make_action("change-nozzle", minutes=20.0, cures={"clog": 0.95})

    plan = plan_for(make_clinic(CLEAN, again))

    left = 0.3 * 0.2 / (1.0 - 0.3 * 0.8)
    assert names(plan) == ["clean", "change-nozzle"]
    assert plan.steps[1].success == pytest.approx(0.95 * left)


def test_money_counts_as_minutes() -> None:
    """A remedy that costs money comes after an equal one that does not."""
    dear = make_action("a-new-part", minutes=10.0, money=2.0, cures={"clog": 0.8})

    plan = plan_for(make_clinic(dear, CLEAN))

    assert names(plan)[0] == "clean"


def test_what_was_tried_is_not_repeated() -> None:
    """A remedy the person has done already is left out, whatever came of it."""
    evidence = make_evidence(tried=(TriedRemedy("clean", "unknown"),))

    assert names(plan_for(make_clinic(CLEAN, TIGHTEN), evidence)) == ["tighten"]


def test_remedies_of_another_process_are_left_out() -> None:
    """A case of one process is not told to do something to another."""
    other = make_action("resin", process="VPP", cures={"clog": 0.9})

    assert names(plan_for(make_clinic(other, CLEAN))) == ["clean"]


def test_remedies_not_worth_their_cost_are_left_out() -> None:
    """When handing over is the better bargain the plan ends."""
    hopeless = make_action("rebuild", minutes=400.0, cures={"loose": 0.5})

    assert names(plan_for(make_clinic(hopeless))) == []


def test_an_action_waits_for_those_it_comes_after() -> None:
    """The better ratio does not overtake what must be done before."""
    late = make_action("tighten", minutes=2.0, cures={"loose": 0.9}, after=("clean",))

    assert names(plan_for(make_clinic(late, CLEAN))) == ["clean", "tighten"]


def test_of_two_actions_that_wait_for_each_other_one_is_done() -> None:
    """An order holds between actions that are both done; a ring allows one of them."""
    one = make_action("one", cures={"clog": 0.8}, after=("two",))
    two = make_action("two", cures={"clog": 0.8}, after=("one",))

    assert names(plan_for(make_clinic(one, two))) == ["one"]


def test_limit_counts_checks_and_remedies() -> None:
    """Safety steps do not use up the limit."""
    knowledge = make_clinic(SAFETY, CLEAN, DRY, TIGHTEN)

    plan = plan_for(knowledge, dangers=["burn"], limit=2)

    assert names(plan) == ["unplug", "clean", "dry"]  # the two that spare the last resort most


def test_safety_comes_first_when_a_danger_was_read() -> None:
    """A danger named by the text brings its safety step to the top."""
    other = make_action("cool-down", kind="safety", process="any", cautions=("hot",))

    plan = plan_for(make_clinic(CLEAN, other, SAFETY), dangers=["burn"])

    assert names(plan) == ["unplug", "clean"]
    assert plan.steps[0].kind == "safety"
    assert plan.steps[0].success == 0.0


def test_safety_comes_first_when_a_dangerous_finding_is_present() -> None:
    """Seeing the danger is enough; denying it is not."""
    knowledge = make_clinic(SAFETY)
    there = Evidence(process="MEX", observations=(Observation("brown", "present", 0.6, 0.2),))
    gone = Evidence(process="MEX", observations=(Observation("brown", "absent"),))

    assert names(plan_for(knowledge, there)) == ["unplug"]
    assert names(plan_for(knowledge, gone)) == []


def test_safety_comes_first_when_a_dangerous_fault_is_suspected() -> None:
    """A fault that shows itself by a dangerous finding is dangerous from 0.10 on."""
    knowledge = make_clinic(SAFETY, TIGHTEN)
    likely = build_knowledge(
        faults=[make_fault("scorch", prior=0.1)],
        findings=knowledge.findings.values(),
        links=[Link("scorch", "brown", 0.8, "memory")],
        actions=[SAFETY],
        cautions=knowledge.cautions.values(),
        dangers=knowledge.dangers.values(),
    )

    assert names(plan_for(knowledge)) == ["tighten"]
    assert names(plan_for(likely)) == ["unplug"]


def test_safety_step_may_name_its_faults() -> None:
    """A safety step for a fault comes first when that fault is suspected."""
    gloves = make_action("gloves", kind="safety", faults=("clog",))

    assert names(plan_for(make_clinic(gloves, CLEAN))) == ["gloves", "clean"]


def test_a_danger_without_a_step_of_its_own_brings_all_safety_steps() -> None:
    """Rather one caution too many than none."""
    plan = plan_for(make_clinic(CLEAN, SAFETY), dangers=["heat"])

    assert names(plan) == ["unplug", "clean"]


def test_a_check_that_pays_comes_before_an_expensive_remedy() -> None:
    """A quick remedy first, then a look, and only where it says so the long work."""
    dear = make_action("strip-hot-end", minutes=120.0, cures={"clog": 0.9})
    look = make_action("look", kind="check", minutes=1.0, settles=("thin",))

    plan = plan_for(make_clinic(dear, TIGHTEN, look, leak=0.01))

    assert names(plan) == ["tighten", "look", "strip-hot-end"]
    assert plan.steps[1].kind == "check"
    assert plan.steps[1].success == 0.0
    assert plan.fork is not None
    assert (plan.fork.finding, plan.fork.follows, plan.fork.otherwise) == ("thin", "present", ())
    assert plan.steps[2].reached == pytest.approx(plan.steps[1].reached * plan.fork.present)


def test_a_check_that_costs_more_than_it_saves_is_left_out() -> None:
    """Looking for an hour before a remedy of two minutes is no use."""
    look = make_action("look", kind="check", minutes=600.0, settles=("thin",))

    assert "look" not in names(plan_for(make_clinic(TIGHTEN, look)))


def test_the_cheaper_of_two_checks_is_taken() -> None:
    """Two checks that settle the same finding: one is enough."""
    dear = make_action("strip-hot-end", minutes=120.0, cures={"clog": 0.9})
    looks = [
        make_action(name, kind="check", minutes=minutes, settles=("thin",))
        for name, minutes in (("slow-look", 3.0), ("quick-look", 1.0))
    ]

    plan = plan_for(make_clinic(dear, *looks, leak=0.01))

    assert names(plan) == ["quick-look", "strip-hot-end"]


def test_a_settled_check_is_not_repeated() -> None:
    """A finding already looked at needs no check."""
    dear = make_action("strip-hot-end", minutes=120.0, cures={"clog": 0.9})
    look = make_action("look", kind="check", minutes=1.0, settles=("thin",))

    plan = plan_for(make_clinic(dear, look, leak=0.01), make_evidence_of("thin"))

    assert "look" not in names(plan)


def test_checks_alone_make_no_plan() -> None:
    """Without a remedy there is nothing a check could save."""
    look = make_action("look", kind="check", minutes=1.0, settles=("thin",))

    assert names(plan_for(make_clinic(look))) == []


def test_a_check_lowers_the_expected_cost_or_is_left_out() -> None:
    """What a plan costs with a check is summed over both answers by listing all sets of faults."""
    dear = make_action("strip-hot-end", minutes=120.0, cures={"clog": 0.9})
    look = make_action("look", kind="check", minutes=1.0, settles=("thin",))
    knowledge = make_clinic(dear, TIGHTEN, look, leak=0.01)

    plan = plan_for(knowledge)
    without = plan_for(make_clinic(dear, TIGHTEN, leak=0.01))

    assert plan.expected_cost < without.expected_cost
    assert plan.expected_cost == pytest.approx(_listed_cost(knowledge))
    assert without.expected_cost <= LAST_RESORT_MINUTES


def _listed_cost(knowledge: Knowledge) -> float:
    """Return the cost of: tighten, look, strip the hot end if the finding is there, hand over."""
    joint = compute_joint(knowledge, make_evidence())
    sets = list_fault_sets(knowledge)
    network = knowledge.network
    tighten, strip = (
        network.cure[network.action_at[name]] for name in ("tighten", "strip-hot-end")
    )
    at = network.finding_at["thin"]
    total = 0.0
    for chance, faults in zip(joint, sets, strict=True):
        fails = np.where(faults, 1.0 - tighten, 1.0).prod()
        absent = (1.0 - network.leak[at]) * np.where(faults, 1.0 - network.link[:, at], 1.0).prod()
        # Tightening acts on the faults, the finding is looked at as it was before.
        both_fail = np.where(faults, (1.0 - tighten) * (1.0 - strip), 1.0).prod()
        present = fails * (1.0 - absent)
        stripped = present * 120.0 + both_fail * (1.0 - absent) * LAST_RESORT_MINUTES
        total += chance * (2.0 + fails * 1.0 + stripped + fails * absent * LAST_RESORT_MINUTES)
    return float(total)


def make_evidence_of(finding: str) -> Evidence:
    """Return evidence of one finding surely present."""
    return Evidence(process="MEX", observations=(Observation(finding, "present"),))
