"""Cutting a show into parts, with a run sheet or without one."""

from collections.abc import Sequence

import numpy as np

from triage.captions._alignment import align_parts
from triage.captions._cut_model import CutModel, load_cut_model
from triage.captions._features import ShowSigns, read_signs
from triage.captions._model import KINDS, Captions, CaptionSegment, Kind, PlannedPart
from triage.captions._titles import make_title
from triage.captions._trade import list_trade_stems
from triage.captions._unplanned import cut_signs, find_places, sum_near
from triage.errors import CaptionError
from triage.knowledge import Knowledge

NEAR_S = 10.0  # a start counts as found within as much


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
    places = find_places(signs, model)
    if run_sheet:
        stretches, parts, starts = align_parts(signs, places, run_sheet, model)
    else:
        stretches, starts = cut_signs(signs, places, model)
        parts = [None] * len(stretches)
    near = np.minimum(sum_near(starts, signs.start_s[places], NEAR_S), 1.0)
    confidence = [float(near[stretch.first]) for stretch in stretches]
    firsts = [int(places[stretch.first]) for stretch in stretches]
    ends = [*firsts[1:], len(captions.cues)]
    found = []
    for first, end, stretch, part, sure in zip(
        firsts, ends, stretches, parts, confidence, strict=True
    ):
        planned = run_sheet[part] if run_sheet and part is not None else None
        kind = planned.kind if planned else KINDS[stretch.state]
        named = planned.slug.strip() if planned else ""
        found.append(
            CaptionSegment(
                start_s=captions.cues[first].start_s,
                end_s=signs.end_s if end == len(captions.cues) else captions.cues[end].start_s,
                kind=kind,
                title=named or _name(signs, first, end, kind, trade),
                text=_join(captions, first, end),
                part=part,
                confidence=sure,
            )
        )
    return tuple(found)


def _name(signs: ShowSigns, first: int, end: int, kind: Kind, trade: frozenset[str]) -> str:
    words = signs.words
    return make_title(words, int(words.first[first]), int(words.first[end]), kind=kind, trade=trade)


def _join(captions: Captions, first: int, end: int) -> str:
    return " ".join(word for cue in captions.cues[first:end] for word in cue.text.split())
