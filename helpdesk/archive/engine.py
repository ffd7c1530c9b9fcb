"""The archive’s only way to the engine: captions and their segments."""

from collections.abc import Sequence

from helpdesk.archive.errors import CaptionsRefusedError
from helpdesk.archive.values import CueLine, CutSegment, Planned, ReadFile, Suspect
from helpdesk.diagnosis.engine import fault_info
from helpdesk.diagnosis.engine.knowledge import expert_knowledge, get_engine
from helpdesk.diagnosis.engine.knowledge import make_ready as make_ready
from triage.captions import Captions, Cue, PlannedPart, read_captions, segment, write_webvtt
from triage.diagnose import ReportInput
from triage.errors import TriageError
from triage.inference import compute_posterior

MOST_SUSPECTS = 3
LEAST_SUSPECTED = 0.05  # as on a case page [judgement: desk, 2026-11]
LEAST_CUE_S = 0.002
READ_CHARS = 6_000  # of a segment; a case of ten minutes has about 9,000 [judgement: desk]


def read_file(raw: bytes) -> ReadFile:
    """Return what a WebVTT or SubRip file holds.

    Raises
    ------
    CaptionsRefusedError
        If it holds no captions.
    """
    try:
        found = read_captions(raw)
    except TriageError as error:
        words = str(error)
        raise CaptionsRefusedError(f"{words[:1].upper()}{words[1:]}.") from error
    return ReadFile(
        cues=[CueLine(c.start_s, c.end_s, c.text, c.speaker) for c in found.cues],
        remarks=[*found.problems, *found.notes],
        file_format=found.file_format,
        encoding=found.encoding,
        is_automatic=found.is_automatic,
        is_mixed=found.is_mixed,
    )


def cut(cues: Sequence[CueLine], planned: Sequence[Planned] = ()) -> list[CutSegment]:
    """Return the segments of a show, along its run sheet where one is known."""
    sheet = [_part(part) for part in planned] or None
    return [
        CutSegment(found.start_s, found.kind, found.title, found.part, found.confidence)
        for found in segment(_captions(cues), knowledge=expert_knowledge(), run_sheet=sheet)
    ]


def write_captions(cues: Sequence[CueLine]) -> str:
    """Return cues as a WebVTT file."""
    # Times are written in thousandths of a second, in which a cue needs a length.
    return write_webvtt(
        Cue(c.start_s, max(c.end_s, c.start_s + LEAST_CUE_S), c.text, c.speaker) for c in cues
    )


def suspect_faults(words: str) -> list[Suspect]:
    """Return the faults that some words speak of, best first; none where nothing tells."""
    diagnoser = get_engine().diagnoser
    report = ReportInput(id=0, text=words[:READ_CHARS])
    posterior = compute_posterior(diagnoser.knowledge, diagnoser.gather(report))
    return [
        Suspect(fault.id, fault_info(fault.id).name, round(fault.probability, 4))
        for fault in posterior.ranked[:MOST_SUSPECTS]
        if fault.probability >= LEAST_SUSPECTED
    ]


def _captions(cues: Sequence[CueLine]) -> Captions:
    return Captions(tuple(Cue(c.start_s, c.end_s, c.text, c.speaker) for c in cues))


def _part(part: Planned) -> PlannedPart:
    return PlannedPart(
        kind=part.kind,
        slug=part.slug,
        script=part.script,
        words=part.words,
        planned_s=part.planned_s,
        started_s=part.started_s,
    )
