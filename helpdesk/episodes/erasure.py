"""Taking the words of an erased case out of run sheets."""

from django.db import transaction

from helpdesk.episodes.lengths import measure_part
from helpdesk.episodes.locks import count_change, lock_episode
from helpdesk.episodes.models import Candidate, Segment
from helpdesk.episodes.selectors import rate_for


@transaction.atomic
def forget_case(case_id: int) -> None:
    """Take an erased case's words off every sheet, and off the list of candidates.

    A part keeps its place and its length, so that the times of a show that was out stay true.
    """
    for segment in Segment.objects.filter(case=case_id).select_related("episode"):
        episode = lock_episode(segment.episode)
        segment.refresh_from_db()
        rate = rate_for(segment.presenter, unmeasured_wpm=episode.words_per_minute)
        pictures_s = sum(picture.seconds for picture in segment.pictures.all())
        length = measure_part(segment, rate=rate, pictures_s=pictures_s)
        segment.slug = f"Erased case {case_id}"
        segment.script = segment.talking_points = segment.links = segment.audience_question = ""
        segment.fixed_s = length.seconds
        segment.version += 1
        segment.pictures.all().delete()
        segment.save()
        count_change(episode)
    Candidate.objects.filter(case=case_id).delete()
