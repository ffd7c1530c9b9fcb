"""A proposal for a show: the chosen cases in their places, with times, reasons and displaced ones.

`Frame` is what stands whatever is chosen: parts before the cases, parts among them, parts after.
"""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from helpdesk.cases.models import Case
from helpdesk.choosing.models import Reason
from helpdesk.choosing.order import Ordered, OrderPart, find_order
from helpdesk.choosing.reasons import Weighed
from helpdesk.choosing.values import POINT, Best, Margin, Option, Relaxation, Rules
from helpdesk.episodes.models import Segment
from helpdesk.episodes.timing import Part, SheetTime, time_sheet

MOST_REASONS = 3  # said of each case at once


@dataclass(frozen=True)
class Showable:
    """A case that could be shown, as the page tells of it.

    `wish` is "must", "never" or ""; `is_on_sheet` tells that it stands on the sheet already, and
    `seconds` are then the sheet's, not an estimate.
    """

    case: Case
    option: Option
    reasons: Sequence[Weighed]
    bars: Sequence[str]
    lacks: Sequence[str]
    wish: str
    segment: Segment | None
    is_cured: bool

    @property
    def points(self) -> float:
        """Return what it is worth by itself, in points."""
        return self.option.worth / POINT

    @property
    def strength(self) -> float:
        """Return its points but for the mark: that says that it is to be shown, not how well.

        Putting a case on a sheet marks it, and the order may not depend on that.
        """
        return sum(r.worth for r in self.reasons if r.reason != Reason.MARKED) / POINT

    @property
    def seconds(self) -> int:
        """Return its length."""
        return self.option.seconds

    @property
    def is_on_sheet(self) -> bool:
        """Return True when it stands on the sheet already."""
        return self.segment is not None

    @property
    def top_reasons(self) -> list[Weighed]:
        """Return the reasons that weigh most, without those that weigh nothing."""
        return [reason for reason in self.reasons if reason.worth][:MOST_REASONS]


@dataclass(frozen=True)
class FixedPart:
    """A part that is no case: its length, and when it must start."""

    id: int
    slug: str
    kind: str
    seconds: int
    is_notice: bool = False
    hit_at: datetime.datetime | None = None
    segment: Segment | None = None


@dataclass(frozen=True)
class Frame:
    """The parts that stand whatever is chosen, and the slot they stand in."""

    starts_at: datetime.datetime
    slot_s: int
    before: Sequence[FixedPart]
    among: Sequence[FixedPart]
    after: Sequence[FixedPart]

    @property
    def fixed_s(self) -> int:
        """Return the seconds these parts take."""
        return sum(part.seconds for part in (*self.before, *self.among, *self.after))

    @property
    def left_s(self) -> int:
        """Return the seconds left for cases; negative when the parts alone are too long."""
        return self.slot_s - self.fixed_s


@dataclass(frozen=True)
class Replacement:
    """What a chosen case displaced: what would come in, what would go, what it would cost.

    `points` is None when nothing fits without it, or when there was no time to find out: then it
    is not `is_known`.
    """

    points: float | None
    comes_in: Sequence[Showable]
    goes_out: Sequence[Showable]
    is_known: bool = True

    @property
    def gain(self) -> float:
        """Return what leaving it out would gain; only a must-have can cost the set something."""
        return max(0.0, -(self.points or 0.0))


@dataclass(frozen=True)
class Place:
    """A part of the proposal in its place, with seconds from the start."""

    number: int
    in_s: int
    out_s: int
    part: FixedPart | None
    shown: Showable | None
    displaced: Replacement | None

    @property
    def seconds(self) -> int:
        """Return its length."""
        return self.out_s - self.in_s


@dataclass(frozen=True)
class Proposal:
    """Everything there is to say about the choosing for a show."""

    frame: Frame
    rules: Rules
    best: Best | None
    places: Sequence[Place]
    ordered: Ordered | None
    over_s: int  # of the whole show, waiting for fixed times included
    relaxation: Relaxation | None
    showables: Mapping[int, Showable]
    is_settled: bool = True  # of sets worth the same, it is known to be the one that is taken

    @property
    def chosen(self) -> list[Place]:
        """Return the places of the cases, in order."""
        return [place for place in self.places if place.shown]

    @property
    def case_ids(self) -> list[int]:
        """Return the numbers of the chosen cases, in order."""
        return [place.shown.case.pk for place in self.places if place.shown]

    @property
    def points(self) -> float:
        """Return what the set is worth."""
        return self.best.worth / POINT if self.best else 0.0

    @property
    def bound(self) -> float:
        """Return what no set can pass."""
        return self.best.bound / POINT if self.best else 0.0

    @property
    def variety_points(self) -> float:
        """Return what of it is for variety."""
        return self.points - sum(p.shown.points for p in self.places if p.shown)

    @property
    def runners_up(self) -> list[Showable]:
        """Return the cases that may be shown and were not chosen: wishes, then the worthiest."""
        taken = set(self.best.chosen) if self.best else set()
        found = [s for s in self.showables.values() if not s.bars and s.case.pk not in taken]
        return sorted(found, key=lambda s: (not s.wish, -s.option.worth, s.case.pk))

    @property
    def held_back(self) -> list[Showable]:
        """Return the cases that something keeps from the show, the worthiest first."""
        found = [s for s in self.showables.values() if s.bars]
        return sorted(found, key=lambda s: (-s.option.worth, s.case.pk))


def lay_out(
    frame: Frame, chosen: Sequence[Showable], displaced: Mapping[int, Replacement]
) -> tuple[list[Place], Ordered, SheetTime]:
    """Return the parts of the show in their best order, with times."""
    lead_s = sum(part.seconds for part in frame.before)
    among = {-number: part for number, part in enumerate(frame.among, 1)}
    shown = {each.case.pk: each for each in chosen}
    parts = [_part_of_case(each, lead_s, frame) for each in _strongest_first(chosen)]
    parts += [_part_of_fixed(key, part, lead_s, frame) for key, part in among.items()]
    ordered = find_order(parts)
    rows: list[FixedPart | Showable] = [
        *frame.before,
        *(among[key] if key in among else shown[key] for key in ordered.ids),
        *frame.after,
    ]
    timed = [Part(row.seconds, _hit_of(row)) for row in rows]
    end = frame.starts_at + datetime.timedelta(seconds=frame.slot_s)
    times = time_sheet(timed, starts_at=frame.starts_at, hard_end=end)
    places = []
    for number, (row, time) in enumerate(zip(rows, times.parts, strict=True), 1):
        in_s = round((time.front - frame.starts_at).total_seconds())
        is_case = isinstance(row, Showable)
        places.append(
            Place(
                number=number,
                in_s=in_s,
                out_s=in_s + row.seconds,
                part=None if isinstance(row, Showable) else row,
                shown=row if isinstance(row, Showable) else None,
                displaced=displaced.get(row.case.pk) if is_case else None,  # type: ignore[union-attr]
            )
        )
    return places, ordered, times


def replacement_of(margin: Margin, showables: Mapping[int, Showable]) -> Replacement:
    """Return what a chosen case displaced, with the cases themselves."""
    return Replacement(
        points=None if margin.worth is None else margin.worth / POINT,
        comes_in=[showables[number] for number in margin.comes_in],
        goes_out=[showables[number] for number in margin.goes_out],
        is_known=margin.is_known,
    )


def _strongest_first(chosen: Sequence[Showable]) -> list[Showable]:
    return sorted(chosen, key=lambda each: (-each.strength, each.case.pk))


def _hit_of(row: FixedPart | Showable) -> datetime.datetime | None:
    if isinstance(row, Showable):
        return row.segment.hit_at if row.segment else None
    return row.hit_at


def _at_s(hit_at: datetime.datetime | None, lead_s: int, frame: Frame) -> int | None:
    """Return when a part must start, in seconds after the first part that is put in order."""
    if hit_at is None:
        return None
    return round((hit_at - frame.starts_at).total_seconds()) - lead_s


def _part_of_case(shown: Showable, lead_s: int, frame: Frame) -> OrderPart:
    """Return a case as the order sees it."""
    values = dict(sorted(shown.option.traits, reverse=True))
    return OrderPart(
        id=shown.case.pk,
        seconds=shown.seconds,
        strength=shown.strength,
        family=values.get("family", ""),
        process=values.get("process", ""),
        presenter=shown.segment.presenter if shown.segment else "",
        is_danger=bool(shown.case.danger_name),
        is_cure=shown.is_cured,
        at_s=_at_s(shown.segment.hit_at if shown.segment else None, lead_s, frame),
    )


def _part_of_fixed(key: int, part: FixedPart, lead_s: int, frame: Frame) -> OrderPart:
    """Return a notice or another part among the cases as the order sees it."""
    return OrderPart(
        id=key,
        seconds=part.seconds,
        presenter=part.segment.presenter if part.segment else "",
        is_case=False,
        is_danger=part.is_notice,
        at_s=_at_s(part.hit_at, lead_s, frame),
    )
