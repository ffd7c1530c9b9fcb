"""Learning from corrected shows where segments begin, and measuring what that brought."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import cast

from django.db.models import Q

from helpdesk.archive import engine
from helpdesk.archive.models import ArchivedShow, ArchiveSegment
from helpdesk.archive.values import Corrected, CueLine, CutSegment, SegmentKind

NEAR_S = 10.0  # a start counts as found within as much, as the engine's own measure has it
FOLDS = 5
LEAST_SHOWS = 2  # one to learn from, one to measure on

Starts = Sequence[tuple[float, str]]


@dataclass(frozen=True, slots=True)
class Score:
    """How well shows were cut: share of starts (F1, within 10 s) and of time of the right kind."""

    starts: float
    kinds: float


@dataclass(frozen=True, slots=True)
class Lesson:
    """What came of learning: both scores are on shows the model had not seen."""

    shows: int
    before: Score
    after: Score

    @property
    def is_better(self) -> bool:
        """Return True when starts are found no worse than before, and something is better."""
        first = (self.before.starts, self.before.kinds)
        then = (self.after.starts, self.after.kinds)
        return then[0] >= first[0] and then > first


def list_corrected() -> list[Corrected]:
    """Return the shows somebody corrected or found right, oldest first."""
    shows = ArchivedShow.objects.filter(
        Q(checked_at__isnull=False) | Q(segments__corrected_at__isnull=False)
    ).distinct()
    return [
        Corrected(
            number=show.number,
            cues=[CueLine(*cue) for cue in show.captions.cues],
            starts=[(s.start_s, cast(SegmentKind, s.kind)) for s in _rising(show)],
            end_s=show.captions.duration_s,
        )
        for show in shows.select_related("captions").order_by("number")
        if hasattr(show, "captions")
    ]


def measure_learning(shows: Sequence[Corrected]) -> Lesson:
    """Return how shows are cut before and after learning from the others of them.

    Needs two shows or more.
    """
    folds = min(FOLDS, len(shows))
    before, after = [], []
    for fold in range(folds):
        learned = engine.learn_model([s for n, s in enumerate(shows) if n % folds != fold])
        for show in shows[fold::folds]:
            before.append(_score(show, engine.cut(show.cues, model=engine.first_model())))
            after.append(_score(show, engine.cut(show.cues, model=learned)))
    return Lesson(len(shows), _mean(before), _mean(after))


def score_starts(found: Starts, true: Starts, *, end_s: float) -> Score:
    """Return how well found starts fit true ones; the first of a show is no finding."""
    ours = [at for at, _ in found[1:]]
    theirs = [at for at, _ in true[1:]]
    hits = engine.count_near(theirs, ours, within_s=NEAR_S)
    total = len(ours) + len(theirs)
    begins_s = min(found[0][0], true[0][0])
    edges = sorted({begins_s, end_s, *(at for at, _ in (*found, *true) if at < end_s)})
    same_s = sum(
        after - at for at, after in pairwise(edges) if _kind_at(found, at) == _kind_at(true, at)
    )
    length_s = end_s - begins_s
    return Score(2 * hits / total if total else 1.0, same_s / length_s if length_s > 0.0 else 1.0)


def _score(show: Corrected, cut: Sequence[CutSegment]) -> Score:
    found = [(segment.start_s, segment.kind) for segment in cut]
    return score_starts(found, show.starts, end_s=show.end_s)


def _kind_at(starts: Starts, second: float) -> str:
    """Return the kind at a second."""
    kind = starts[0][1]
    for at, begun in starts:
        if at > second:
            break
        kind = begun
    return kind


def _mean(scores: Sequence[Score]) -> Score:
    count = len(scores)
    return Score(sum(s.starts for s in scores) / count, sum(s.kinds for s in scores) / count)


def _rising(show: ArchivedShow) -> list[ArchiveSegment]:
    """Return the segments that begin after the one before: of crowded cues some share a second."""
    rows: list[ArchiveSegment] = []
    for row in show.segments.order_by("position"):
        if not rows or row.start_s > rows[-1].start_s:
            rows.append(row)
    return rows
