"""The timed run sheet: every part with its length, its times and what it still needs."""

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from django.db.models import Prefetch
from django.utils.text import Truncator

from helpdesk.answers.models import Answer
from helpdesk.cases.models import Case
from helpdesk.episodes.lengths import PartLength, measure_part, rate_of_part
from helpdesk.episodes.missing import Missing, find_refusal, list_part_missing
from helpdesk.episodes.models import Episode, EpisodeState, Segment, ShownPicture
from helpdesk.episodes.rates import Rate, find_rates
from helpdesk.episodes.spoken import list_cautions
from helpdesk.episodes.timing import Part, PartTime, SheetTime, over_before_hits, time_sheet
from helpdesk.people.selectors import Credit, list_credits
from helpdesk.photos.models import Photo, PhotoState
from helpdesk.supply.selectors import Mention, blocks_of, mentions_of

OPENING_WORDS = 18


@dataclass(frozen=True)
class SheetRow:
    """One line of the run sheet."""

    place: int
    segment: Segment
    length: PartLength
    time: PartTime
    missing: Sequence[Missing]
    reaches_hit_s: int | None  # seconds over (+) when this part's hit time is reached
    cautions: Sequence[str] = ()
    pictures: Sequence[ShownPicture] = ()  # only those that may be shown now
    mentions: Sequence[Mention] = ()  # what stands on subjects this part names
    do_not_show: str = ""  # why, when the show is on air and somebody took it back

    @property
    def seconds(self) -> int:
        """Return the planned length."""
        return self.length.seconds

    @property
    def words(self) -> int:
        """Return how many words are spoken."""
        return self.length.words

    @property
    def is_blocked(self) -> bool:
        """Return True when something missing keeps this part from going out."""
        return any(m.is_blocking for m in self.missing)

    @property
    def blocks(self) -> list[str]:
        """Return what keeps this part from going out, in words."""
        return [m.text for m in self.missing if m.is_blocking]

    @property
    def points(self) -> list[str]:
        """Return the talking points, one each."""
        return self.segment.points

    @property
    def opening(self) -> str:
        """Return the first words of the script, to know it by."""
        return Truncator(self.segment.script).words(OPENING_WORDS)

    @property
    def credits(self) -> list[Credit]:
        """Return the names to be said today, each once; a stored name would outlive consent."""
        if self.segment.case is None:
            return []
        # Who reported the same print is named with whoever reported it first.
        cases = (self.segment.case, *self.segment.case.joined.all())
        return list(dict.fromkeys(credit for case in cases for credit in list_credits(case)))

    @property
    def credit(self) -> str:
        """Return the credit line as it is read aloud."""
        if self.segment.case is None:
            return ""
        names = list(dict.fromkeys(speak_credit(credit) for credit in self.credits))
        return f"Credit: {'; '.join(names)}" if names else "Credit: nobody is named"


@dataclass(frozen=True)
class RunSheet:
    """An episode with everything its sheet shows."""

    episode: Episode
    rows: Sequence[SheetRow]
    time: SheetTime
    hard_end: datetime.datetime
    rates: Mapping[str, Rate] = field(default_factory=dict)  # measured, by the presenter's key

    @property
    def missing(self) -> list[Missing]:
        """Return everything missing, blocking things first."""
        found = [m for row in self.rows for m in row.missing]
        return sorted(found, key=lambda m: not m.is_blocking)

    @property
    def has_cases(self) -> bool:
        """Return True when at least one part shows a case."""
        return any(row.segment.case_id for row in self.rows)

    @property
    def measured(self) -> list[tuple[str, Rate]]:
        """Return who of the sheet's presenters was measured, each once, with their rate."""
        named = {row.segment.presenter: row.length.rate for row in self.rows}
        return [(name, rate) for name, rate in named.items() if rate.is_measured]


def get_run_sheet(episode: Episode) -> RunSheet:
    """Return an episode's parts with lengths, times and what each still needs."""
    segments = _list_segments(episode)
    cautions = list_cautions([s.case for s in segments if s.case])
    blocks = blocks_of(s.case_id for s in segments if s.case_id)
    mentions = mentions_of([_texts_of(segment) for segment in segments])
    rates = find_rates([s.presenter for s in segments])
    said = [cautions.get(s.case_id or 0, ()) for s in segments]
    pictures = [_showable(s.pictures.all()) for s in segments]
    lengths = [
        measure_part(
            s,
            rate=rate_of_part(s, rates, episode.words_per_minute),
            cautions=said[n],
            pictures_s=sum(p.seconds for p in pictures[n]),
        )
        for n, s in enumerate(segments)
    ]
    parts = [Part(length.seconds, s.hit_at) for s, length in zip(segments, lengths, strict=True)]
    hard_end = episode.starts_at + datetime.timedelta(seconds=episode.slot_s)
    sheet = time_sheet(parts, starts_at=episode.starts_at, hard_end=hard_end)
    reached = dict(over_before_hits(parts, sheet))
    rows = [
        SheetRow(
            place=n + 1,
            segment=s,
            length=lengths[n],
            time=sheet.parts[n],
            missing=list_part_missing(s, blocks=blocks.get(s.case_id or 0, ())),
            reaches_hit_s=reached.get(n),
            cautions=said[n],
            pictures=pictures[n],
            mentions=mentions[n],
            do_not_show=_why_not_on_air(episode, s),
        )
        for n, s in enumerate(segments)
    ]
    return RunSheet(episode=episode, rows=rows, time=sheet, hard_end=hard_end, rates=rates)


def list_showable_photos(segment: Segment) -> list[Photo]:
    """Return the photos a part may show: its case's, or any case's of the sheet for other parts."""
    cases = Case.objects.filter(segments__episode=segment.episode_id)
    if segment.case_id:
        cases = Case.objects.filter(pk=segment.case_id) | Case.objects.filter(
            joined_to=segment.case_id
        )
    photos = Photo.objects.filter(case__in=cases, state=PhotoState.READY).select_related("case")
    return [photo for photo in photos.order_by("case_id", "position", "pk") if may_show(photo)]


def may_show(photo: Photo) -> bool:
    """Return True when a photo is ready and its person agrees that it is shown, today."""
    case = photo.case
    return bool(case and photo.is_ready and case.may_show_in_public and not case.erased_at)


def speak_credit(credit: Credit) -> str:
    """Return a credit as it is read aloud, with how the name is said where that is known."""
    name = f"{credit.role} {credit.name}".strip()
    return f"{name}, said “{credit.said_as}”" if credit.said_as else name


def _list_segments(episode: Episode) -> list[Segment]:
    """Return the parts in order with all that their rows need."""
    photos = Prefetch("case__photos", queryset=Photo.objects.filter(state=PhotoState.READY))
    sent = Prefetch("case__answers", queryset=Answer.objects.filter(sent_at__isnull=False))
    pictures = Prefetch("pictures", ShownPicture.objects.select_related("photo__case"))
    found = episode.segments.select_related("case", "own_kind", "edited_by").prefetch_related(
        photos,
        sent,
        pictures,
        "case__consents",
        "case__parts__person",
        "case__joined__parts__person",
    )
    return list(found.order_by("position", "pk"))


def _texts_of(segment: Segment) -> list[str]:
    """Return the words of a part in which a maker, a product or a batch may be named."""
    texts = [segment.slug, segment.script, segment.talking_points, segment.audience_question]
    case = segment.case
    if case is not None:
        material = f"{case.material_maker} {case.material}".strip()
        texts += [case.title, material, f"batch {case.batch}" if case.batch else ""]
    return [text for text in texts if text]


def _showable(pictures: Iterable[ShownPicture]) -> list[ShownPicture]:
    """Return the pictures that may be shown at this moment."""
    return [picture for picture in pictures if may_show(picture.photo)]


def _why_not_on_air(episode: Episode, segment: Segment) -> str:
    """Return why a part is not to be shown although the show is on air, "" when it may be."""
    is_on_air = episode.on_air_at is not None and episode.state == EpisodeState.MAKING
    return find_refusal(segment.case) if is_on_air and segment.case else ""
