"""Putting what was said on a show into the index, and taking it out."""

import datetime
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from django.db import transaction

from helpdesk.search.models import SpokenPassage, SpokenShow
from helpdesk.search.services import INDEXED_CHARS, NO_MARKS

OWN_S = 20.0  # seconds a passage holds of its own, and again of what follows [judgement: desk]
OWN_CHARS = 2_000  # a passage ends here too: cues that all claim the same second fill no row
TITLE_CHARS = 120
BATCH = 500


@dataclass(frozen=True, slots=True)
class SpokenCue:
    """Some words and the second they begin."""

    start_s: float
    text: str


@dataclass(frozen=True, slots=True)
class SpokenPart:
    """A segment of a show, from its first cue to the next one’s."""

    first_cue: int
    kind: str
    title: str
    fault: str = ""
    case_id: int | None = None


@dataclass(frozen=True, slots=True)
class _Stretch:
    """The cues that are one passage's own, and where the words after it end."""

    part: int
    first: int
    last: int  # one behind


@dataclass(slots=True)
class _Words:
    """Words put together with where each cue begins in them."""

    text: str = ""
    cues: list[list[float]] = field(default_factory=list)

    def add(self, cue: SpokenCue) -> None:
        """Add a cue's words in one line."""
        words = " ".join(cue.text.translate(NO_MARKS).split())
        if words:
            self.cues.append([len(self.text), cue.start_s])
            self.text += words + " "


@transaction.atomic
def index_show(
    number: int,
    *,
    title: str,
    on_date: datetime.date | None,
    link: str,
    cues: Sequence[SpokenCue],
    parts: Sequence[SpokenPart],
) -> int:
    """Write what was said on a show anew; return how many passages there are."""
    show, _ = SpokenShow.objects.update_or_create(
        number=number, defaults={"title": title, "on_date": on_date, "link": link}
    )
    show.passages.all().delete()
    passages = [_passage(show, cues, parts, stretch) for stretch in _stretches(cues, parts)]
    kept = [passage for passage in passages if passage.own_chars]
    SpokenPassage.objects.bulk_create(kept, batch_size=BATCH)
    return len(kept)


@transaction.atomic
def drop_show(number: int) -> None:
    """Take a show out of the index."""
    SpokenShow.objects.filter(number=number).delete()


def _stretches(cues: Sequence[SpokenCue], parts: Sequence[SpokenPart]) -> Iterator[_Stretch]:
    """Yield stretches of about twenty seconds, none of which crosses from part to part."""
    ends = [part.first_cue for part in parts[1:]] + [len(cues)]
    for place, (part, end) in enumerate(zip(parts, ends, strict=True)):
        first = part.first_cue
        while first < end:
            last = _end_of(cues, first, end)
            yield _Stretch(place, first, last)
            first = last


def _end_of(cues: Sequence[SpokenCue], first: int, end: int) -> int:
    """Return one behind the last cue of a stretch that begins with `first`."""
    last, chars = first + 1, len(cues[first].text)
    while last < end and cues[last].start_s - cues[first].start_s < OWN_S:
        chars += len(cues[last].text)
        if chars > OWN_CHARS:
            break
        last += 1
    return last


def _passage(
    show: SpokenShow, cues: Sequence[SpokenCue], parts: Sequence[SpokenPart], stretch: _Stretch
) -> SpokenPassage:
    words = _Words()
    for cue in cues[stretch.first : stretch.last]:
        words.add(cue)
    own = words.text
    if stretch.last < len(cues):
        for cue in cues[stretch.last : _end_of(cues, stretch.last, len(cues))]:
            words.add(cue)
    part = parts[stretch.part]
    return SpokenPassage(
        show=show,
        segment=stretch.part,
        title=part.title[:TITLE_CHARS],
        kind=part.kind,
        fault=part.fault,
        case_id=part.case_id,
        text=words.text[:INDEXED_CHARS],
        own_chars=len(own),
        cues=words.cues,
    )
