"""Cutting a show into parts, with a run sheet or without one."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from triage.captions._alignment import align_parts
from triage.captions._cohesion import Cohesion, weigh_cohesion
from triage.captions._cut_model import CutModel, load_cut_model
from triage.captions._features import ShowSigns, read_signs
from triage.captions._model import KINDS, Captions, CaptionSegment, PlannedPart
from triage.captions._semi_markov import Line, Stretch, Sums, find_best, sum_all
from triage.captions._titles import make_title
from triage.captions._trade import list_trade_stems
from triage.errors import CaptionError
from triage.knowledge import Knowledge
from triage.knowledge._model import Floats

SPACING_S = 1.5  # least distance of two places where parts may start
LONGEST_S = 2400.0  # of a part without a run sheet
NEAR_S = 10.0  # a start counts as found within as much
# Cases of one show are alike in length, those of two shows are not: the show's own pace is found
# among these multiples of the usual length [judgement: desk, 2026-11]
PACES = (0.4, 0.63, 1.0, 1.6, 2.5)
PACE_SPREAD = 0.7  # of the logarithm of the pace


def segment(
    captions: Captions,
    *,
    knowledge: Knowledge,
    run_sheet: Sequence[PlannedPart] | None = None,
    model: CutModel | None = None,
) -> tuple[CaptionSegment, ...]:
    """Return the parts of a show in their order, without a gap between them.

    With a run sheet its parts are looked for in their order by their words, their planned lengths
    and the turns of speech that open a part; parts may be missing, and stretches that fit none
    stand between them with `part` None. Without one the turns of speech, the cohesion of the
    words and the usual lengths decide.

    Parameters
    ----------
    captions : Captions
    knowledge : Knowledge
        For the words of the trade.
    run_sheet : sequence of PlannedPart or None
        An empty one counts as none.
    model : CutModel or None
        None for the one that comes with the engine.

    Returns
    -------
    tuple of CaptionSegment, 1 or more

    Raises
    ------
    CaptionError
        If there are no cues.
    """
    if not captions.cues:
        msg = "there are no cues to cut"
        raise CaptionError(msg)
    model = model or load_cut_model()
    trade = list_trade_stems(knowledge)
    signs = read_signs(captions, trade=trade)
    places = find_places(signs.start_s)
    if run_sheet:
        stretches, parts, sums = align_parts(signs, places, run_sheet, model)
    else:
        stretches, sums = cut_signs(signs, places, model)
        parts = [None] * len(stretches)
    confidence = _confidences(stretches, sums, signs.start_s[places])
    kinds = [
        run_sheet[part].kind if run_sheet and part is not None else KINDS[stretch.state]
        for stretch, part in zip(stretches, parts, strict=True)
    ]
    found = []
    for stretch, part, kind, sure in zip(stretches, parts, kinds, confidence, strict=True):
        first_cue = int(places[stretch.first])
        end_cue = int(places[stretch.end]) if stretch.end < len(places) else len(captions.cues)
        end_s = captions.cues[end_cue].start_s if stretch.end < len(places) else signs.end_s
        words = signs.words
        first, end = int(words.first[first_cue]), int(words.first[end_cue])
        slug = run_sheet[part].slug.strip() if run_sheet and part is not None else ""
        cues = captions.cues[first_cue:end_cue]
        found.append(
            CaptionSegment(
                start_s=captions.cues[first_cue].start_s,
                end_s=end_s,
                kind=kind,
                title=slug or make_title(words, first, end, kind=kind, trade=trade),
                text=" ".join(" ".join(cue.text.split()) for cue in cues),
                part=part,
                confidence=sure,
            )
        )
    return tuple(found)


def find_places(start_s: Floats) -> NDArray[np.intp]:
    """Return the cues at which a part may start: all, but of crowded ones only some."""
    chosen = []
    latest = -np.inf
    for at, time_s in enumerate(start_s.tolist()):
        if time_s - latest >= SPACING_S:
            chosen.append(at)
            latest = time_s
    return np.array(chosen, dtype=np.intp)


def draw_line(
    signs: ShowSigns, places: NDArray[np.intp], cohesion: Cohesion, model: CutModel
) -> Line:
    """Return a show as a line for the model's four kinds."""
    time_s = np.append(signs.start_s[places], signs.end_s)
    running = np.concatenate((np.zeros((1, signs.passage.shape[1])), np.cumsum(signs.passage, 0)))
    ends = np.append(places, len(signs.start_s))
    minutes = (time_s - time_s[0])[:, None] / 60.0
    return Line(
        time_s=time_s,
        start=signs.boundary[places] @ model.boundary + model.start,
        inside=running[ends] @ model.passage + minutes * model.inside,
        follow=model.follow,
        first=model.first,
        last=model.last,
        log_length=model.log_length,
        log_spread=model.log_spread,
        longest_s=LONGEST_S,
        cohesion=cohesion,
        cohesion_weight=model.cohesion,
    )


def cut_signs(
    signs: ShowSigns, places: NDArray[np.intp], model: CutModel
) -> tuple[list[Stretch], Sums]:
    """Return the best cut of a show at its own pace, and what all cuts at that pace say."""
    cohesion = weigh_cohesion(signs.words.stems, signs.words.first[places])
    line = draw_line(signs, places, cohesion, model)
    best: tuple[float, list[Stretch], Line] | None = None
    for pace in PACES:
        paced = at_pace(line, pace)
        stretches, score = find_best(paced)
        score -= 0.5 * (np.log(pace) / PACE_SPREAD) ** 2
        if best is None or score > best[0]:
            best = score, stretches, paced
    assert best is not None  # noqa: S101 - there are paces
    return best[1], sum_all(best[2])


def at_pace(line: Line, pace: float) -> Line:
    """Return a line whose cases are longer or shorter than usual by a factor."""
    stretch = np.array([np.log(pace) if kind == "case" else 0.0 for kind in KINDS])
    return replace(line, log_length=line.log_length + stretch)


def _confidences(stretches: Sequence[Stretch], sums: Sums, start_s: Floats) -> list[float]:
    """Return for each stretch the probability that one starts near its start."""
    total = np.concatenate(([0.0], np.cumsum(sums.starts.sum(axis=1))))
    at = start_s[[stretch.first for stretch in stretches]]
    low = np.searchsorted(start_s, at - NEAR_S, side="left")
    high = np.searchsorted(start_s, at + NEAR_S, side="right")
    return [float(sure) for sure in np.clip(total[high] - total[low], 0.0, 1.0)]
