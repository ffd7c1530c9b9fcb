"""Holding a sheet while it is changed, and counting the change."""

from helpdesk.episodes.errors import EpisodeOutError, StaleSheetError
from helpdesk.episodes.models import Episode, EpisodeState


def lock_episode(episode: Episode) -> Episode:
    """Hold an episode's row and bring `episode` up to what others stored since it was read."""
    episode.refresh_from_db(from_queryset=Episode.objects.select_for_update())
    return episode


def lock_sheet(episode: Episode, version: int | None = None) -> Episode:
    """Hold a sheet that may be changed; raises StaleSheetError when it is past `version`."""
    lock_episode(episode)
    refuse_when_out(episode)
    if version is not None and episode.version != version:
        raise StaleSheetError(f"The sheet is at version {episode.version} by now.")
    return episode


def count_change(episode: Episode) -> None:
    """Count a change of the sheet."""
    episode.version += 1
    episode.save(update_fields=["version"])


def refuse_when_out(episode: Episode) -> None:
    """Raise EpisodeOutError for an episode that was shown."""
    if episode.state == EpisodeState.OUT:
        raise EpisodeOutError(f"Episode {episode.number} is out; its sheet is history now.")
