"""Reading episodes: the timed sheet, what is missing, what is in reserve."""

from django.db.models import Prefetch, QuerySet

from helpdesk.answers.models import Answer
from helpdesk.episodes.missing import Missing, list_missing
from helpdesk.episodes.models import Candidate, Episode, EpisodeState, PartKind, Segment
from helpdesk.episodes.rates import Rate, rate_for
from helpdesk.episodes.sheets import (
    RunSheet,
    SheetRow,
    get_run_sheet,
    list_showable_photos,
    speak_credit,
)
from helpdesk.episodes.shows import Show, ShowPart, ShowPicture, SpokenName, get_show
from helpdesk.episodes.withdrawals import took_photos_back
from helpdesk.photos.models import Photo, PhotoState
from helpdesk.supply.selectors import blocks_of

__all__ = [
    "Missing",
    "Rate",
    "RunSheet",
    "SheetRow",
    "Show",
    "ShowPart",
    "ShowPicture",
    "SpokenName",
    "find_episode_in_the_making",
    "get_run_sheet",
    "get_show",
    "list_episodes",
    "list_missing",
    "list_part_kinds",
    "list_presenters",
    "list_reserve",
    "list_showable_photos",
    "rate_for",
    "reserve_with_missing",
    "speak_credit",
]

MOST_PRESENTERS = 60
READY_AND_SENT = (
    Prefetch("case__photos", queryset=Photo.objects.filter(state=PhotoState.READY)),
    Prefetch("case__answers", queryset=Answer.objects.filter(sent_at__isnull=False)),
    "case__consents",
)


def list_episodes(*, limit: int = 60) -> QuerySet[Episode]:
    """Return episodes, newest first."""
    return Episode.objects.order_by("-number")[:limit]


def find_episode_in_the_making() -> Episode | None:
    """Return the next episode that is not out yet, the lowest number first."""
    return Episode.objects.filter(state=EpisodeState.MAKING).order_by("number").first()


def list_part_kinds() -> QuerySet[PartKind]:
    """Return the kinds of part the producer made, by name."""
    return PartKind.objects.all()


def list_presenters() -> list[str]:
    """Return who has presented parts, by name, so that a name is written in one way."""
    named = Segment.objects.exclude(presenter="").order_by("presenter")
    return list(named.values_list("presenter", flat=True).distinct()[:MOST_PRESENTERS])


def list_reserve() -> QuerySet[Candidate]:
    """Return candidates that stand on no run sheet yet, longest waiting first.

    A case joined to another is shown with it and is no candidate by itself.

    Who took back that photos may be shown is no candidate from that moment on.
    """
    return (
        Candidate.objects.filter(case__segments__isnull=True, case__joined_to__isnull=True)
        .exclude(took_photos_back())
        .select_related("case", "added_by")
        .order_by("added_at", "pk")[:60]
    )


def reserve_with_missing() -> list[tuple[Candidate, list[Missing]]]:
    """Return the reserve, each candidate with what its case still needs."""
    reserve = list(list_reserve().prefetch_related(*READY_AND_SENT))
    blocks = blocks_of(candidate.case_id for candidate in reserve)
    return [(c, list_missing(c.case, blocks=blocks[c.case_id])) for c in reserve]
