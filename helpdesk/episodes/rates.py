"""How fast presenters speak, learnt from their shows.

A rate is words over seconds, summed over the parts a presenter spoke. Few words say little, so a
rate begins at free talk and moves away from it as seconds add up: PRIOR_S seconds at FREE_TALK_WPM
count as if they had been heard before.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction

from helpdesk.episodes.models import FREE_TALK_WPM, PresenterRate, SpokenPart

PRIOR_S = 300.0  # seconds, as long as one case on a show [judgement: desk, 2026-11]
SHORTEST_S = 20.0  # a shorter part is mostly pauses [judgement: desk, 2026-11]
FEWEST_WORDS = 30  # [judgement: desk, 2026-11]
SLOWEST_WPM, FASTEST_WPM = 60.0, 300.0  # beyond them captions or times are wrong [judgement]
NAME_CHARS = 80


@dataclass(frozen=True)
class Rate:
    """The rate a part is planned at, and whether it was measured on the presenter's shows."""

    words_per_minute: int
    is_measured: bool = False
    words: int = 0
    seconds: float = 0.0


def rate_for(presenter: str, *, unmeasured_wpm: int = FREE_TALK_WPM) -> Rate:
    """Return the rate to plan a presenter's words at; `unmeasured_wpm` before any was measured."""
    return find_rates([presenter]).get(rate_key(presenter), Rate(unmeasured_wpm))


def find_rates(presenters: Iterable[str]) -> dict[str, Rate]:
    """Return the measured rates of presenters by their key, in one query."""
    keys = {rate_key(name) for name in presenters} - {""}
    rows = PresenterRate.objects.filter(key__in=keys, seconds__gt=0)
    return {row.key: _rate_of(row) for row in rows}


def rate_key(presenter: str) -> str:
    """Return a presenter's name as rates know it: without case and doubled spaces."""
    return " ".join(presenter.split()).casefold()[:NAME_CHARS]


@transaction.atomic
def learn_rate(presenter: str, words: int, seconds: float, *, key: str = "") -> Rate | None:
    """Add what a presenter spoke to their rate; None when it says nothing about how they speak.

    A `key` names what was spoken, such as a part of a show: learning it again replaces what was
    learnt before, also when it says nothing any more. Without a key it is added.
    """
    if key:
        _forget(key)
    if not rate_key(presenter) or not _is_telling(words, seconds):
        return None
    row, _ = PresenterRate.objects.select_for_update().get_or_create(
        key=rate_key(presenter), defaults={"presenter": " ".join(presenter.split())[:NAME_CHARS]}
    )
    row.words += words
    row.seconds += seconds
    row.save(update_fields=["words", "seconds"])
    if key:
        SpokenPart.objects.create(key=key, rate=row, words=words, seconds=seconds)
    return _rate_of(row)


def _forget(key: str) -> None:
    """Take what was learnt under a key out of its sum."""
    known = SpokenPart.objects.filter(key=key).first()
    if known is None:
        return
    row = PresenterRate.objects.select_for_update().get(pk=known.rate_id)
    row.words = max(0, row.words - known.words)
    row.seconds = max(0.0, row.seconds - known.seconds)
    row.save(update_fields=["words", "seconds"])
    known.delete()


def _is_telling(words: int, seconds: float) -> bool:
    """Return True when a part is long enough, and spoken at a rate people speak at."""
    if not math.isfinite(seconds) or seconds < SHORTEST_S or words < FEWEST_WORDS:
        return False
    return SLOWEST_WPM <= words * 60 / seconds <= FASTEST_WPM


def _rate_of(row: PresenterRate) -> Rate:
    """Return a stored sum as a rate, drawn towards free talk."""
    words = row.words + FREE_TALK_WPM * PRIOR_S / 60
    seconds = row.seconds + PRIOR_S
    return Rate(
        words_per_minute=round(words * 60 / seconds),
        is_measured=True,
        words=row.words,
        seconds=row.seconds,
    )
