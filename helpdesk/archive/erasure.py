"""What of the archive goes when a person is forgotten: the link to their case and its title.

What was said on a show was made public by its broadcast and stays; nothing points from it to the
person any more. See docs/data-protection.md.
"""

from django.db.models import Q

from helpdesk.archive.indexing import index_archived
from helpdesk.archive.models import ArchivedShow, ArchiveSegment
from helpdesk.cases.erasure import eraser
from helpdesk.cases.models import Case
from helpdesk.episodes.models import Segment

ERASED_TITLE = "A case that was erased"


@eraser("archive")
def erase_part(case: Case) -> None:
    """Replace the titles of a case's segments, unlink them, and forget how to undo that."""
    rows = ArchiveSegment.objects.filter(case=case)
    shows = set(rows.values_list("show", flat=True))
    rows.update(title=ERASED_TITLE, case=None)
    slugs = list(Segment.objects.filter(case=case).values_list("slug", flat=True))
    # A segment that was taken off its case by hand may still bear the name of its planned part.
    named = ArchiveSegment.objects.filter(Q(title__in=slugs) & Q(case__isnull=True))
    for number in Segment.objects.filter(case=case).values_list("episode__number", flat=True):
        mine = named.filter(show__number=number)
        shows |= set(mine.values_list("show", flat=True))
        mine.update(title=ERASED_TITLE)
    for show in ArchivedShow.objects.filter(pk__in=shows):
        show.changes.all().delete()
        index_archived(show)
