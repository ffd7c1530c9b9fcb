"""What the engine advises, as plain values: sets of faults, questions, the plan."""

from collections.abc import Sequence
from typing import Any

from helpdesk.diagnosis.engine.catalogue import action_info, fault_info, finding_info, risk_name
from helpdesk.diagnosis.values import NumberView
from triage.diagnose import Diagnosis
from triage.explain import Sensitivity, rank_sensitivities
from triage.inference import Posterior, list_explanations
from triage.knowledge import Knowledge
from triage.questions import BatchedQuestion, Question, Respondent, choose_batch, rank_questions
from triage.repair import Fork, Plan, Step

MOST_QUESTIONS = 5
MOST_SETS = 4
LEAST_SET = 0.02  # sets less probable are not shown [judgement: desk, 2026-11-25]


def sets_data(knowledge: Knowledge, diagnosis: Diagnosis) -> list[dict[str, Any]]:
    """Return the most probable sets of faults; the empty one is "none of the known faults"."""
    found = list_explanations(knowledge, diagnosis.posterior, limit=MOST_SETS)
    return [
        {
            "faults": list(entry.faults),
            "names": [fault_info(fault).name for fault in entry.faults],
            "probability": round(entry.probability, 6),
        }
        for entry in found.sets
        if entry.probability >= LEAST_SET
    ]


def questions_data(
    knowledge: Knowledge, diagnosis: Diagnosis, respondent: Respondent
) -> dict[str, Any]:
    """Return the best questions for this person, and those worth asking together."""
    evidence, posterior = diagnosis.evidence, diagnosis.posterior
    ranked = rank_questions(knowledge, evidence, posterior, respondent=respondent)
    batch = choose_batch(knowledge, evidence, posterior, respondent=respondent, ranked=ranked)
    together = {entry.question.finding: entry for entry in batch.questions}
    # What goes together stands first, so that it is asked as it stands.
    rest = [question for question in ranked[:MOST_QUESTIONS] if question.finding not in together]
    listed = [entry.question for entry in batch.questions] + rest
    return {
        "questions": [
            _question(question, together.get(question.finding))
            for question in listed[:MOST_QUESTIONS]
        ],
        "batch_saves": round(batch.gain_minutes, 1),
        "batch_costs": round(batch.cost_minutes, 1),
        "batch_pays": batch.pays,
    }


def _question(question: Question, batched: BatchedQuestion | None) -> dict[str, Any]:
    info = finding_info(question.finding)
    return {
        "finding": info.id,
        "name": info.name,
        "question": question.question,
        "help": info.help,
        "kind": info.kind,
        "gain": round(question.gain_bits, 4),
        "saves": round(question.gain_minutes, 1),
        "adds": round(batched.added_minutes, 1) if batched else 0.0,
        "is_together": batched is not None,
        "minutes": question.minutes,
        "needs": list(question.needs),
        "present": round(question.present, 4),
    }


def plan_data(plan: Plan, posterior: Posterior) -> dict[str, Any]:
    """Return the plan's steps with what each is for, the fork, the last resort and the sums."""
    return {
        "plan": [_step(step, posterior) for step in plan.steps],
        "last_resort": _step(plan.last_resort, posterior),
        "fork": None if plan.fork is None else _fork(plan.fork),
        "expected_minutes": round(plan.expected_minutes, 1),
        "expected_wait_minutes": round(plan.expected_wait_minutes, 1),
        "expected_money": round(plan.expected_money, 2),
    }


def _step(step: Step, posterior: Posterior) -> dict[str, Any]:
    info = action_info(step.action)
    return {
        "action": info.id,
        "kind": step.kind,
        "name": info.name,
        "how": info.how,
        "why": _purpose(info.cures, info.settles, info.kind, posterior),
        "minutes": step.minutes,
        "wait_minutes": step.wait_minutes,
        "money": step.money,
        "reached": round(step.reached, 4),
        "success": round(step.success, 4),
        "cured_so_far": round(step.cured_so_far, 4),
    }


def _fork(fork: Fork) -> dict[str, Any]:
    info = finding_info(fork.finding)
    return {
        "check": fork.check,
        "finding": info.id,
        "name": info.name,
        "present": round(fork.present, 4),
        "follows": fork.follows,
        "otherwise": [action_info(action).name for action in fork.otherwise],
    }


def _purpose(cures: Sequence[str], settles: Sequence[str], kind: str, posterior: Posterior) -> str:
    """Return what a step is for: the likeliest fault it cures, or what it settles."""
    if cures:
        best = max(cures, key=lambda fault: posterior.chances.get(fault, 0.0))
        return f"For: {fault_info(best).name}"
    if settles:
        return f"Settles: {finding_info(settles[0]).name}"
    return "Stays first, whatever else changes" if kind == "safety" else ""


def number_views(knowledge: Knowledge, diagnosis: Diagnosis, fault: str) -> tuple[NumberView, ...]:
    """Return the numbers of the knowledge that move a fault's probability most, in words."""
    return tuple(
        NumberView(
            what=_number_words(entry),
            value=entry.value,
            is_ratio=entry.kind == "risk",
            source=knowledge.sources[entry.source].title,
            halved=entry.halved,
            doubled=entry.doubled,
            tips_at=entry.tips_at,
            tips_to=fault_info(entry.tips_to).name if entry.tips_to else "",
        )
        for entry in rank_sensitivities(
            knowledge, diagnosis.posterior, fault, evidence=diagnosis.evidence
        )
    )


def _number_words(entry: Sensitivity) -> str:
    """Return what a number says."""
    if entry.kind == "prior":
        return f"How common it is here: {fault_info(entry.fault).name}"
    if entry.kind == "leak":
        return f"Seen without any known fault: {finding_info(entry.subject).name}"
    if entry.kind == "risk":
        return f"{risk_name(entry.subject)} makes likelier: {fault_info(entry.fault).name}"
    if entry.kind == "cure":
        return f"{action_info(entry.subject).name} cures: {fault_info(entry.fault).name}"
    return f"{fault_info(entry.fault).name} shows as: {finding_info(entry.subject).name}"
