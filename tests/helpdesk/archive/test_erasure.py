"""What is left of a person in the archive once they are forgotten."""

import pytest

from helpdesk.archive import corrections
from helpdesk.archive.corrections import Told
from helpdesk.archive.erasure import ERASED_TITLE
from helpdesk.archive.models import ArchiveSegment
from helpdesk.archive.services import import_captions
from helpdesk.keeping.erasing import erase_case
from helpdesk.search.models import SpokenPassage
from tests.factories import make_case
from tests.helpdesk.archive.shows import vtt

pytestmark = pytest.mark.django_db


def test_erasing_a_case_takes_its_title_and_link_and_the_way_back(producer):
    case = make_case(title="Bettine’s box")
    show = import_captions(vtt(), number=7, label="7.vtt").show
    show = corrections.tell(7, show.version, 1, Told("case", "Bettine’s box", case.pk), by=producer)
    corrections.tell(7, show.version, 1, Told("case", "Bettine’s old box", case.pk), by=producer)

    erase_case(case.pk)

    segment = show.segments.get(position=1)
    assert (segment.title, segment.case) == (ERASED_TITLE, None)
    assert not show.changes.exists()
    assert not ArchiveSegment.objects.filter(title__contains="Bettine").exists()
    assert not SpokenPassage.objects.filter(title__contains="Bettine").exists()
    assert not SpokenPassage.objects.filter(case=case).exists()


def test_erasing_a_case_leaves_other_segments_as_they_are(producer):
    case, other = make_case(), make_case(title="Vase")
    show = import_captions(vtt(), number=7, label="7.vtt").show
    corrections.tell(7, show.version, 1, Told("case", "Vase", other.pk), by=producer)

    erase_case(case.pk)

    segment = show.segments.get(position=1)
    assert (segment.title, segment.case) == ("Vase", other)
