"""What the desk knows of a case, gathered for an answer: causes, signs, steps, cautions."""

from dataclasses import dataclass

from helpdesk.answers.cautions import Caution
from helpdesk.cases.models import Case
from helpdesk.diagnosis import engine, selectors
from helpdesk.diagnosis.values import TRIED, CaseView, DangerView

MOST_SIGNS = 4
MOST_STEPS = 5  # a person follows a short list; more is sent when these did not help
MOST_REMEDIES = 2
# Below this the desk's own word is "unlikely", and a guess is not sent as what fits best.
LEAST_SUSPICION = 0.20  # probability [judgement: desk design, 2026-11]
DANGER_PREFIX = "danger:"


@dataclass(frozen=True)
class Cause:
    """A fault as the person may read of it."""

    id: str
    name: str
    why: str


@dataclass(frozen=True)
class AdvisedStep:
    """One step of the plan in words."""

    id: str
    kind: str
    name: str
    how: str
    wait_minutes: float


@dataclass(frozen=True)
class Advice:
    """Everything an answer is written from."""

    causes: tuple[Cause, ...]
    is_confirmed: bool
    signs: tuple[str, ...]
    steps: tuple[AdvisedStep, ...]
    cautions: tuple[Caution, ...]


def gather_advice(case: Case) -> Advice:
    """Return what there is to say: from the verdict, or else from the strongest suspicion."""
    view = selectors.get_view(case)
    verdicts = [verdict.fault for verdict in selectors.list_verdicts(case)]
    suspects = view.suspects if view else ()
    fault_ids = verdicts or [s.fault for s in suspects[:1] if s.probability >= LEAST_SUSPICION]
    steps = _choose_steps(view, fault_ids, is_confirmed=bool(verdicts))
    return Advice(
        causes=tuple(_cause(fault) for fault in fault_ids),
        is_confirmed=bool(verdicts),
        signs=_signs(view, fault_ids),
        steps=steps,
        cautions=(*danger_cautions(case), *_step_cautions(case, steps)),
    )


def raised_dangers(case: Case) -> frozenset[str]:
    """Return the ids of the dangers the desk sees now, in the case or one joined to it."""
    return frozenset(danger.id for danger in _list_dangers(case))


def danger_cautions(case: Case) -> tuple[Caution, ...]:
    """Return a caution for each danger the desk sees now, in the case or one joined to it."""
    return tuple(
        Caution(
            id=DANGER_PREFIX + danger.id,
            title=danger.name,
            text=danger.say,
            wording=danger.say,
            is_danger=True,
            origin=danger.id,
        )
        for danger in _list_dangers(case)
    )


def _list_dangers(case: Case) -> list[DangerView]:
    """Return the dangers, each once: it is one print, whoever reported which of them."""
    views = [selectors.get_view(each) for each in (case, *case.joined.order_by("pk"))]
    found: dict[str, DangerView] = {}
    for danger in (danger for view in views if view for danger in view.dangers):
        found.setdefault(danger.id, danger)
    return list(found.values())


def _cause(fault_id: str) -> Cause:
    info = engine.fault_info(fault_id)
    return Cause(id=info.id, name=info.name, why=info.why)


def _signs(view: CaseView | None, fault_ids: list[str]) -> tuple[str, ...]:
    """Return what was observed, first what speaks for the causes, as whole statements."""
    if view is None:
        return ()
    present = {f.id: f.name for f in view.findings if f.state == "present"}
    speaking = [
        reason.finding
        for suspect in view.suspects
        if suspect.fault in fault_ids
        for reason in suspect.reasons
        if reason.decibans > 0 and reason.finding in present
    ]
    ordered = dict.fromkeys([*speaking, *present])
    return tuple(present[finding] for finding in ordered)[:MOST_SIGNS]


def _choose_steps(
    view: CaseView | None, fault_ids: list[str], *, is_confirmed: bool
) -> tuple[AdvisedStep, ...]:
    """Return the plan's steps that concern the causes, safety first, in the plan's order.

    A verdict settles what checks would tell, and may name a fault the plan does not reach: then
    only safety steps and remedies for the verdict are left, and missing remedies are added.
    """
    infos = [engine.action_info(step.action) for step in (view.plan if view else ())]
    if not fault_ids:  # nothing is likely enough to send somebody to work for it
        infos = [i for i in infos if i.kind == "safety"]
    if is_confirmed:
        wanted = set(fault_ids)
        infos = [i for i in infos if i.kind == "safety" or wanted & set(i.cures)]
        reached = {fault for info in infos for fault in info.cures}
        for fault_id in fault_ids:
            if fault_id not in reached:
                infos += _remedies_for(fault_id, view)
    chosen = {info.id: info for info in infos}
    return tuple(AdvisedStep(i.id, i.kind, i.name, i.how, i.wait_minutes) for i in chosen.values())[
        :MOST_STEPS
    ]


def _remedies_for(fault_id: str, view: CaseView | None) -> list[engine.ActionInfo]:
    """Return the quickest remedies for a fault that were not tried yet."""
    tried = {span.finding for span in (view.spans if view else ()) if span.kind == TRIED}
    remedies = [
        info
        for info in engine.list_actions(("remedy",))
        if fault_id in info.cures and info.id not in tried
    ]
    return sorted(remedies, key=lambda i: (i.minutes + i.wait_minutes, i.id))[:MOST_REMEDIES]


def _step_cautions(case: Case, steps: tuple[AdvisedStep, ...]) -> tuple[Caution, ...]:
    """Return the cautions of the steps, each once, without those a raised danger already says."""
    said = {engine.danger_info(danger.id).caution for danger in _list_dangers(case)}
    found = {}
    for step in steps:
        for caution in engine.action_info(step.id).cautions:
            if caution.id not in said:
                found[caution.id] = Caution(
                    id=caution.id,
                    text=caution.text,
                    wording=caution.text,
                    is_danger=caution.is_danger,
                )
    return tuple(found.values())
