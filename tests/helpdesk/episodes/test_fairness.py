"""What is said of makers: blocks keep an episode back, corrections come up wherever a name does."""

import datetime

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from helpdesk.core import clock
from helpdesk.core.jobs import run_due_jobs
from helpdesk.diagnosis.services import set_verdict
from helpdesk.episodes import services
from helpdesk.episodes.errors import NotReadyError
from helpdesk.episodes.selectors import get_run_sheet, get_show
from helpdesk.presenting.selectors import get_stage
from helpdesk.supply.models import Remark, RemarkKind, Subject, SubjectKind
from tests.factories import make_case
from tests.helpdesk.episodes.test_shows import AGREED, START

pytestmark = pytest.mark.django_db
FACTS = {"process": "MEX", "material": "PLA", "material_maker": "Fennmoor"}


@pytest.fixture
def episode():
    """Return an episode in the making."""
    return services.make_episode(
        number=38, title="Knocks", starts_at=START, slot_s=1200, words_per_minute=175
    )


def test_verdict_that_names_a_maker_keeps_the_episode_back(episode, producer):
    case = make_case(consent=AGREED, facts=FACTS)
    run_due_jobs()
    set_verdict(case, ["filament-poor-batch"], actor=producer)
    services.add_case(episode, case, actor=producer)

    part = next(p for p in get_show(episode).parts if p.case_id == case.pk)

    assert len(part.blocked) == 1
    assert "Fennmoor" in part.blocked[0]
    with pytest.raises(NotReadyError, match="names a maker"):
        services.mark_out(episode, actor=producer)


def test_standing_correction_comes_up_wherever_its_subject_is_named(episode, producer):
    subject = Subject.objects.create(name="Fennmoor", kind=SubjectKind.MAKER, made_at=clock.now())
    Remark.objects.create(
        subject=subject,
        kind=RemarkKind.CORRECTION,
        text="The spool was wound by another firm.",
        who="the maker",
        on_date=datetime.date(2026, 11, 1),
        noted_by_name="Imke",
        noted_at=clock.now(),
    )
    named, other = episode.segments.all()[:2]
    services.change_segment(named, {"script": "Tonight we hear from Fennmoor."})
    client = Client()
    client.force_login(producer)

    rows = get_run_sheet(episode).rows

    assert [len(row.mentions) for row in rows] == [1, 0, 0, 0, 0]
    for page in ("", "/script", "/paper", "/table", "/present", f"/parts/{named.pk}"):
        text = client.get(f"/episodes/38{page}").content.decode()
        assert "wound by another firm" in text, page
    assert "wound by another" not in client.get(f"/episodes/38/parts/{other.pk}").content.decode()
    said = [part["mentions"] for part in get_stage(episode)["parts"]]
    assert said == [
        ["Correction on Fennmoor: The spool was wound by another firm."],
        [],
        [],
        [],
        [],
    ]


def test_sheet_looks_corrections_up_once_however_many_parts_name_somebody(
    episode, django_assert_num_queries
):
    subject = Subject.objects.create(name="Fennmoor", kind=SubjectKind.MAKER, made_at=clock.now())
    Remark.objects.create(
        subject=subject,
        kind=RemarkKind.CORRECTION,
        text="The spool was wound by another firm.",
        who="the maker",
        on_date=datetime.date(2026, 11, 1),
        noted_by_name="Imke",
        noted_at=clock.now(),
    )
    parts = list(episode.segments.all())
    services.change_segment(parts[0], {"script": "Tonight we hear from Fennmoor."})
    with CaptureQueriesContext(connection) as one:
        get_run_sheet(episode)
    for part in parts[1:]:
        services.change_segment(part, {"script": "And again from Fennmoor."})

    with django_assert_num_queries(len(one)):
        rows = get_run_sheet(episode).rows

    assert [len(row.mentions) for row in rows] == [1, 1, 1, 1, 1]
