"""The archive’s only way to the engine: captions and their segments."""

import functools
import logging
from collections.abc import Sequence
from pathlib import Path

from django.conf import settings

from helpdesk.archive.errors import CaptionsRefusedError
from helpdesk.archive.values import (
    Corrected,
    CueLine,
    CutSegment,
    Planned,
    ReadFile,
    Suspect,
)
from helpdesk.diagnosis.engine import fault_info
from helpdesk.diagnosis.engine.knowledge import expert_knowledge, get_engine
from helpdesk.diagnosis.engine.knowledge import make_ready as make_ready
from triage.captions import (
    Captions,
    CorrectedShow,
    Cue,
    CutModel,
    PlannedPart,
    dump_cut_model,
    learn,
    load_cut_model,
    read_captions,
    read_cut_model,
    segment,
    write_webvtt,
)
from triage.diagnose import ReportInput
from triage.errors import InputError, TriageError
from triage.inference import compute_posterior
from triage.workings.segmentation import count_near as count_near

logger = logging.getLogger(__name__)

MOST_SUSPECTS = 3
LEAST_SUSPECTED = 0.05  # as on a case page [judgement: desk, 2026-11]
LEAST_CUE_S = 0.002
READ_CHARS = (
    3_000  # of a segment: more changed no first suspect of 55 generated cases [measured: 2026-11]
)


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


def cut(
    cues: Sequence[CueLine], planned: Sequence[Planned] = (), *, model: "CutModel | None" = None
) -> list[CutSegment]:
    """Return the segments of a show, along its run sheet where one is known.

    Without a `model` the desk's own is used, or that of the engine where the desk has none.
    """
    sheet = [_part(part) for part in planned] or None
    model = model or get_model()
    return [
        CutSegment(found.start_s, found.kind, found.title, found.part, found.confidence)
        for found in segment(
            _captions(cues), knowledge=expert_knowledge(), run_sheet=sheet, model=model
        )
    ]


def model_path() -> Path:
    """Return where the desk keeps how it learned to cut."""
    return Path(settings.DATA_DIR) / "cut_model.json"


def get_model() -> CutModel:
    """Return the model in use: what the desk learned, else what comes with the engine."""
    try:
        stamp = model_path().stat().st_mtime_ns
    except OSError:
        return load_cut_model()
    return _own_model(stamp)


def first_model() -> CutModel:
    """Return the model that comes with the engine."""
    return load_cut_model()


def learn_model(shows: Sequence[Corrected]) -> CutModel:
    """Return a model that learned from corrected shows, beside what comes with the engine."""
    told = [
        CorrectedShow(_captions(show.cues), tuple((at_s, kind) for at_s, kind in show.starts))
        for show in shows
    ]
    words = f"what comes with the engine, and {len(told)} corrected shows of the desk"
    return learn(load_cut_model(), told, knowledge=expert_knowledge(), provenance=words)


def store_model(model: CutModel) -> Path:
    """Write a model to the desk's data folder; it is put in place at once, never half of it."""
    path = model_path()
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_suffix(".unfinished")
    unfinished.write_text(dump_cut_model(model), encoding="utf-8")
    unfinished.replace(path)
    return path


@functools.lru_cache(maxsize=2)
def _own_model(stamp: int) -> CutModel:
    """Return the model of the file as it was at a time; a broken one is not used."""
    try:
        return read_cut_model(model_path().read_text(encoding="utf-8"))
    except (InputError, OSError, UnicodeDecodeError) as error:
        logger.warning("The learned model of cuts is not used: %s", error)
        return load_cut_model()


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
