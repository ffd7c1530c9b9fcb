"""What may be hinted of a sheet's cases, gathered from what the desk makes of them."""

from helpdesk.cases.models import Case
from helpdesk.diagnosis import engine
from helpdesk.diagnosis.selectors import get_view, list_verdicts
from helpdesk.diagnosis.values import PRESENT, TRIED, CaseView
from helpdesk.episodes.sheets import RunSheet
from helpdesk.episodes.teases import CaseStory

SHOWN_KIND = "part"  # a finding that shows on the print, so that the audience can see it too


def gather_stories(sheet: RunSheet) -> list[CaseStory]:
    """Return what may be hinted of the cases that may be shown, in the order of the sheet."""
    rows = [row for row in sheet.rows if row.segment.case and not row.is_blocked]
    return [_story(row.segment.case) for row in rows if row.segment.case]


def _story(case: Case) -> CaseStory:
    """Return one case's story; what it must not tell are verdicts, suspicions and their cures."""
    view = get_view(case)
    faults = {verdict.fault for verdict in list_verdicts(case)}
    faults |= {suspect.fault for suspect in (view.suspects if view else ())}
    return CaseStory(
        case_id=case.pk,
        title=case.title,
        machine=case.machine,
        material=case.material,
        height_mm=case.failed_at_mm,
        findings=_shown_findings(view),
        tries=len({s.finding for s in view.spans if s.kind == TRIED}) if view else 0,
        is_dangerous=bool(case.danger_name or (view and view.dangers)),
        secrets=secrets_of(faults),
    )


def secrets_of(faults: set[str]) -> list[str]:
    """Return the names of faults and of the remedies that cure them."""
    remedies = [action for action in engine.list_actions() if faults & set(action.cures)]
    return [*(engine.fault_info(f).name for f in sorted(faults)), *(a.name for a in remedies)]


def _shown_findings(view: CaseView | None) -> list[str]:
    """Return the names of what was seen on the print."""
    present = [f for f in (view.findings if view else ()) if f.state == PRESENT]
    return [f.name for f in present if engine.finding_info(f.id).kind == SHOWN_KIND]
