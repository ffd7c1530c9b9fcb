"""Tell the people of a case where it was shown, once each, and keep the place right."""

from django.conf import settings
from django.db import transaction
from django.template.loader import render_to_string

from helpdesk.accounts.models import User
from helpdesk.cases.models import Appearance, Case
from helpdesk.cases.services import record_appearance
from helpdesk.core.jobs import start_job
from helpdesk.episodes.models import Episode, EpisodeState
from helpdesk.episodes.real_times import ShownPart, list_shown_parts
from helpdesk.episodes.selectors import get_run_sheet
from helpdesk.outbox.marks import hash_address
from helpdesk.outbox.models import MailKind, OutgoingMail
from helpdesk.outbox.services import queue_mail
from helpdesk.search.moments import at_second


def feature_parts(episode: Episode, *, actor: User) -> None:
    """Record where the cases of a show were on, and tell their people; safe to repeat."""
    for part in list_shown_parts(get_run_sheet(episode)):
        if part.segment.case:
            for case in list_group(part.segment.case):
                _feature(case, episode, int(part.at_s), actor)


@transaction.atomic
def move_appearances(episode: Episode, *, actor: User) -> int:
    """Put the places right where cases were shown, after times were corrected; return how many.

    Nobody is told again.
    """
    if episode.state != EpisodeState.OUT:
        return 0
    moved = 0
    for part in list_shown_parts(get_run_sheet(episode)):
        if part.segment.case is None:
            continue
        cases = list_group(part.segment.case)
        stale = Appearance.objects.filter(case__in=cases, episode_number=episode.number)
        for shown in stale.select_related("case"):
            if (shown.starts_at_s, shown.link) == (int(part.at_s), episode.link):
                continue
            _record(shown.case, episode, int(part.at_s), actor)
            _index(shown.case, episode, f"{int(part.at_s)}:{episode.version}")
            moved += 1
    return moved


def list_group(lead: Case) -> list[Case]:
    """Return a case and those joined to it, the first one first, without those erased."""
    joined = lead.joined.filter(erased_at__isnull=True).order_by("pk")
    return [case for case in (lead, *joined) if case.erased_at is None]


def letter_key(case: Case, episode: Episode) -> str:
    """Return the name of the letter that tells of a show: one for a case and an episode."""
    return f"featured:{case.pk}:{episode.number}"


def write_letter(case: Case, episode: Episode, second: int) -> str:
    """Return the words that tell somebody where their print was shown."""
    context = {
        "case": case,
        "episode": episode,
        "second": second,
        "address": at_second(episode.link, second) if episode.link else "",
        "desk_name": settings.DESK_NAME,
    }
    return render_to_string("episodes/email/featured.txt", context)


def is_told(case: Case, episode: Episode) -> bool:
    """Return True when the address of a case was told of a show, for this print, already."""
    lead = case.joined_to or case
    keys = [letter_key(other, episode) for other in list_group(lead)]
    letters = OutgoingMail.objects.filter(dedupe_key__in=keys)
    told = {hash_address(to) for to in letters.values_list("to", flat=True)}
    return bool(case.email) and hash_address(case.email) in told


def find_places(episode: Episode) -> dict[int, ShownPart]:
    """Return the part in which each case of a show was on, by the case's number."""
    return {
        part.segment.case_id: part
        for part in list_shown_parts(get_run_sheet(episode))
        if part.segment.case_id
    }


def _feature(case: Case, episode: Episode, second: int, actor: User) -> None:
    """Record where a case was shown and tell its person, unless that was done."""
    if not _record(case, episode, second, actor):
        return
    # Who sent two reports of one print has one letter of it.
    if not is_told(case, episode):
        queue_mail(
            case,
            kind=MailKind.FEATURED,
            subject=_subject(case),
            text=write_letter(case, episode, second),
            dedupe_key=letter_key(case, episode),
            is_automatic=True,
        )
    _index(case, episode, "")


def _record(case: Case, episode: Episode, second: int, actor: User) -> bool:
    """Write where a case was shown; True when that is new."""
    _, is_new = record_appearance(
        case,
        episode_number=episode.number,
        episode_title=episode.title,
        starts_at_s=second,
        on_date=episode.starts_at.date(),
        link=episode.link,
        actor=actor,
    )
    return is_new


def _subject(case: Case) -> str:
    what = "Your print" if case.is_own_print else "The print you passed on"
    return f"{what} was on {settings.SHOW_NAME}"


def _index(case: Case, episode: Episode, change: str) -> None:
    """Let the search know of a place; each change is one job."""
    key = f"index-case:{case.pk}:episode:{episode.number}"
    start_job("index-case", key=f"{key}:{change}" if change else key, payload={"case": case.pk})
