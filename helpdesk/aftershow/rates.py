"""How fast each presenter really spoke, from the parts whose real length is known."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db import transaction

from helpdesk.episodes.models import Episode, SpokenPart
from helpdesk.episodes.rates import Rate, learn_rate, rate_for
from helpdesk.episodes.real_times import ShownPart
from helpdesk.episodes.timing import count_words
from helpdesk.search.models import SpokenPassage

FROM_CAPTIONS = "words of the captions, over the whole length of the parts"
FROM_SCRIPT = "words of the script, over the length of the parts without pictures and fixed time"


@dataclass(frozen=True)
class Measured:
    """What a presenter said in one part and how long it took; `key` names it for the rates."""

    key: str
    slug: str
    words: int
    seconds: float


@dataclass(frozen=True)
class MeasuredRate:
    """How fast a presenter spoke in a show, from what that is known, and the rate planned with."""

    presenter: str
    parts: Sequence[Measured]
    basis: str
    now: Rate
    is_learnt: bool

    @property
    def words(self) -> int:
        """Return all words said."""
        return sum(part.words for part in self.parts)

    @property
    def seconds(self) -> float:
        """Return how long they took."""
        return sum(part.seconds for part in self.parts)

    @property
    def words_per_minute(self) -> int:
        """Return the rate of this show alone."""
        return round(self.words * 60 / self.seconds)


@dataclass(frozen=True)
class Learnt:
    """A presenter's rate before and after a show was learnt from."""

    presenter: str
    old_wpm: int
    new_wpm: int


def measure_rates(episode: Episode, parts: Sequence[ShownPart]) -> list[MeasuredRate]:
    """Return the rate of each presenter, from parts whose start and end were both noted."""
    said = _said_at(episode.number)
    by_presenter: dict[str, list[Measured]] = {}
    for place, part in enumerate(parts):
        following = parts[place + 1] if place + 1 < len(parts) else None
        ends_noted = following.is_noted if following else episode.off_air_at is not None
        presenter = " ".join(part.segment.presenter.split())
        if presenter and part.is_noted and ends_noted and (found := _measure(part, said)):
            by_presenter.setdefault(presenter, []).append(found)
    keys = [measured.key for own in by_presenter.values() for measured in own]
    known = set(SpokenPart.objects.filter(key__in=keys).values_list("key", "words"))
    return [
        MeasuredRate(
            presenter=name,
            parts=own,
            basis=FROM_CAPTIONS if said else FROM_SCRIPT,
            now=rate_for(name, unmeasured_wpm=episode.words_per_minute),
            is_learnt=any((m.key, m.words) in known for m in own),
        )
        for name, own in sorted(by_presenter.items())
    ]


@transaction.atomic
def learn_rates(episode: Episode, parts: Sequence[ShownPart]) -> list[Learnt]:
    """Let the rates learn from a show; once more after times were corrected replaces it."""
    learnt = []
    for measured in measure_rates(episode, parts):
        for part in measured.parts:
            learn_rate(measured.presenter, part.words, part.seconds, key=part.key)
        after = rate_for(measured.presenter, unmeasured_wpm=episode.words_per_minute)
        learnt.append(
            Learnt(measured.presenter, measured.now.words_per_minute, after.words_per_minute)
        )
    return learnt


def _measure(part: ShownPart, said: Sequence[tuple[float, int]]) -> Measured | None:
    """Return what was said in a part, None when nothing is known of it."""
    if said:
        words = sum(count for second, count in said if part.at_s <= second < part.until_s)
        seconds = part.lasted_s
    else:
        words = count_words(part.segment.script)
        pictures_s = sum(picture.seconds for picture in part.segment.pictures.all())
        seconds = part.lasted_s - part.segment.fixed_s - pictures_s
    if not words or seconds <= 0:
        return None
    return Measured(f"part:{part.segment.pk}", part.segment.slug, words, seconds)


def _said_at(number: int) -> list[tuple[float, int]]:
    """Return the second at which each cue of a show's captions begins, with its words."""
    passages = SpokenPassage.objects.filter(show__number=number).order_by("pk")
    rows = passages.values_list("text", "own_chars", "cues")
    return [cue for text, own_chars, cues in rows for cue in _cues_of(text, own_chars, cues)]


def _cues_of(
    text: str, own_chars: int, cues: Sequence[Sequence[float]]
) -> Iterable[tuple[float, int]]:
    """Yield the second and the count of words of a passage's own cues."""
    ends = [int(offset) for offset, _ in cues[1:]] + [len(text)]
    for (offset, second), end in zip(cues, ends, strict=True):
        if offset < own_chars:
            yield second, count_words(text[int(offset) : min(end, own_chars)])
