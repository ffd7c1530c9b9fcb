"""Notices: counted once a person, public only with everything, gone with what they rest on."""

import re
from collections.abc import Callable

import pytest
from django.db import connection
from django.template.loader import render_to_string
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from helpdesk.accounts.models import User
from helpdesk.cases.joining import join_cases
from helpdesk.cases.models import Case
from helpdesk.cases.services import Consent, record_consent
from helpdesk.core import clock
from helpdesk.keeping.erasing import erase_case
from helpdesk.outbox.models import OutgoingMail
from helpdesk.photos.models import Photo
from helpdesk.supply.counting import count_share
from helpdesk.supply.erasure import erase_part
from helpdesk.supply.errors import NotReadyError, RefusedWordsError, StaleWordsError
from helpdesk.supply.models import (
    EvidencePicture,
    Notice,
    NoticeState,
    Statement,
    Subject,
    SubjectCase,
)
from helpdesk.supply.notices import (
    NoticeWords,
    change_notice,
    list_notice_needs,
    make_notice,
    make_ready,
    withdraw_notice,
)
from helpdesk.supply.overview import find_public_photo, list_public_notices
from helpdesk.supply.remarks import NewRemark
from helpdesk.supply.selectors import list_subjects_of
from helpdesk.supply.statements import (
    Asking,
    add_picture,
    ask_reply,
    change_statement,
    record_reply,
    write_statement,
)
from tests.helpdesk.supply.makers import (
    FAULT,
    NEUTRAL,
    add_photo,
    ask_by_hand,
    confirm,
    make_case_of,
    make_maker,
)

pytestmark = pytest.mark.django_db
WORDS = NoticeWords(title="A strand too thick", text=NEUTRAL, fault=FAULT)


@pytest.fixture
def case(reviewer: User) -> Case:
    """Open a case with the fault, of a known batch."""
    case = make_case_of(batch="FM-2291")
    confirm(case, reviewer)
    return case


@pytest.fixture
def batch(case: Case) -> Subject:
    """Give the batch that the case names."""
    return list_subjects_of(case)[0]


@pytest.fixture
def photo(case: Case) -> Photo:
    """Give a photo that may be shown."""
    return add_photo(case)


@pytest.fixture
def notice(batch: Subject, photo: Photo, reviewer: User) -> Notice:
    """Draft a notice that nothing is missing of."""
    notice = make_notice(batch, WORDS, actor=reviewer)
    statement = Statement.objects.get(notice=notice)
    add_picture(statement, photo, "The strand in the gauge", actor=reviewer)
    ask_by_hand(statement, reviewer)
    return notice


@pytest.fixture
def public(notice: Notice, producer: User) -> Notice:
    """Make it public."""
    return make_ready(notice.pk, version=notice.version, has_looked=True, actor=producer)


def _page() -> str:
    return Client().get(reverse("supply:public_notices")).content.decode()


def test_a_person_counts_once_whatever_they_send(
    case: Case, batch: Subject, reviewer: User
) -> None:
    """Three cases of one person and one of another make two; a lead stands for what joined it."""
    make_case_of(batch="FM-2291")
    second = make_case_of(batch="FM-2291")
    confirm(second, reviewer)
    other = make_case_of(batch="FM-2291", email="aurel@quay.example", person_name="Aurel")
    joined = make_case_of(batch="FM-2291", email="third@quay.example", person_name="Third")
    join_cases(joined, into=other, actor=reviewer)

    share = count_share(batch, FAULT)

    assert (share.hits, share.of) == (1, 2)


def test_a_maker_counts_what_stands_below_it(case: Case, batch: Subject) -> None:
    """The maker's uses hold those of products and batches; other makers' do not count."""
    make_case_of("Quayside Polymers", email="aurel@quay.example")
    make_case_of("Fennmoor", email="third@quay.example")
    assert batch.parent is not None
    maker = batch.parent.parent
    assert maker is not None

    assert (count_share(maker, FAULT).hits, count_share(maker, FAULT).of) == (1, 2)
    assert (count_share(batch, FAULT).hits, count_share(batch, FAULT).of) == (1, 1)


def test_a_public_notice_is_read_by_anybody(public: Notice, photo: Photo) -> None:
    """In plain words, with picture, basis and the state of the reply; nobody is named."""
    page = " ".join(_page().split())

    assert NEUTRAL in page
    assert "1 of 1 print with this batch" in page
    assert "21% to 100%" in page  # 0.2065 to 1
    assert "no failure rate of the product" in page
    assert "has not given one yet" in page
    assert "Bettine" not in page
    assert "<script" not in page
    address = reverse("supply:public_photo", args=[public.pk, photo.pk, "web"])
    assert address in page
    assert Client().get(address).status_code == 200


def test_a_draft_is_read_by_nobody_else(notice: Notice, photo: Photo) -> None:
    assert NEUTRAL not in _page()
    address = reverse("supply:public_photo", args=[notice.pk, photo.pk, "web"])
    assert Client().get(address).status_code == 404


def test_a_notice_is_public_only_with_everything(
    batch: Subject, reviewer: User, producer: User
) -> None:
    notice = make_notice(batch, WORDS, actor=reviewer)

    with pytest.raises(NotReadyError) as caught:
        make_ready(notice.pk, version=1, has_looked=True, actor=producer)

    assert len(caught.value.needs) == 2
    assert Notice.objects.get(pk=notice.pk).state == NoticeState.DRAFT


def test_a_notice_is_looked_at_as_it_is(notice: Notice, producer: User) -> None:
    with pytest.raises(RefusedWordsError, match="Look for names"):
        make_ready(notice.pk, version=1, has_looked=False, actor=producer)
    with pytest.raises(StaleWordsError):
        make_ready(notice.pk, version=7, has_looked=True, actor=producer)


def test_a_notice_that_names_the_person_is_kept_back(
    notice: Notice, reviewer: User, producer: User
) -> None:
    words = NoticeWords(title="The spool of Bettine Halvorsen", text=NEUTRAL, fault=FAULT)

    changed = change_notice(notice.pk, words, version=1, actor=reviewer)

    (need,) = list_notice_needs(changed)
    assert "name the person" in need


def test_many_notices_fetch_their_words_at_once(
    public: Notice, photo: Photo, reviewer: User, producer: User
) -> None:
    """A further notice costs only the queries of its count."""
    with CaptureQueriesContext(connection) as one:
        assert len(list_public_notices()) == 1
    for _ in range(2):
        more = make_notice(public.subject, WORDS, actor=reviewer)
        add_picture(more.statement, photo, "The strand in the gauge", actor=reviewer)
        ask_by_hand(more.statement, reviewer)
        make_ready(more.pk, version=more.version, has_looked=True, actor=producer)

    with CaptureQueriesContext(connection) as three:
        assert len(list_public_notices()) == 3

    with CaptureQueriesContext(connection) as count:
        count_share(public.subject, FAULT)
    assert len(three) - len(one) == 2 * len(count)


def test_a_picture_added_later_is_looked_at_by_a_producer(
    public: Notice, case: Case, reviewer: User, producer: User
) -> None:
    """Nobody but a producer shows everybody a picture."""
    statement = Statement.objects.get(notice=public)

    add_picture(statement, add_photo(case, 48), "The other end", actor=reviewer)

    assert list_public_notices() == []
    public.refresh_from_db()
    assert public.state == NoticeState.DRAFT
    make_ready(public.pk, version=public.version, has_looked=True, actor=producer)
    assert len(list_public_notices()[0].pictures) == 2


def test_words_changed_since_they_were_looked_at_are_not_made_public(
    notice: Notice, reviewer: User, producer: User
) -> None:
    """Changed on the page of the statement, they are other words all the same."""
    statement = Statement.objects.get(notice=notice)
    said = NewRemark(text="We look into it.", who="Care", on_date=clock.today())
    record_reply(statement, said, actor=reviewer)

    change_statement(statement.pk, f"{NEUTRAL} Twice.", version=1, actor=reviewer)

    with pytest.raises(StaleWordsError):
        make_ready(notice.pk, version=notice.version, has_looked=True, actor=producer)


def test_a_picture_whose_description_names_the_person_is_kept_back(notice: Notice) -> None:
    """Everybody can have the description of a picture read out."""
    photo = EvidencePicture.objects.get(statement__notice=notice).photo
    photo.alt_text = "The rook of Bettine Halvorsen, leaning"
    photo.save(update_fields=["alt_text"])

    (need,) = list_notice_needs(notice)

    assert "name the person" in need


def test_a_reply_that_names_the_person_is_kept_back(notice: Notice, reviewer: User) -> None:
    said = NewRemark(text="Bettine Halvorsen wrote to us.", who="Care", on_date=clock.today())
    record_reply(Statement.objects.get(notice=notice), said, actor=reviewer)

    (need,) = list_notice_needs(notice)

    assert "name the person" in need


def test_a_changed_notice_is_a_draft_again(public: Notice, reviewer: User) -> None:
    """Its maker was asked about other words, so it is no longer read by anybody."""
    words = NoticeWords(title="New", text=f"{NEUTRAL} It was dried.", fault=FAULT)

    changed = change_notice(public.pk, words, version=public.version, actor=reviewer)

    assert changed.state == NoticeState.DRAFT
    assert any("changed after they were asked" in need for need in list_notice_needs(changed))
    assert list_public_notices() == []


def test_a_withdrawn_notice_is_gone_and_says_why(public: Notice, reviewer: User) -> None:
    with pytest.raises(RefusedWordsError, match="why"):
        withdraw_notice(public.pk, why="", actor=reviewer)

    withdraw_notice(public.pk, why="The gauge was off", actor=reviewer)

    assert list_public_notices() == []
    assert public.subject.entries.filter(why="The gauge was off").exists()


def test_a_caution_stands_first(public: Notice, photo: Photo, reviewer: User) -> None:
    """Dangers lead the page, and the caution leads the notice."""
    words = NoticeWords(title="Hot plug", text=NEUTRAL, fault=FAULT, caution="Switch off first.")
    hot = make_notice(public.subject, words, actor=reviewer)
    Notice.objects.filter(pk=hot.pk).update(state="ready", ready_at=public.ready_at)
    Notice.objects.filter(pk=public.pk).update(ready_at=hot.made_at)

    page = _page()

    assert page.index("Switch off first.") < page.index(NEUTRAL)
    assert page.index("Hot plug") < page.index("A strand too thick")


def test_a_photo_goes_at_once_when_consent_is_taken_back(
    public: Notice, photo: Photo, case: Case
) -> None:
    record_consent(case, Consent(), given_by="the person")

    assert find_public_photo(public.pk, photo.pk) is None
    assert "/photos/" not in _page()
    address = reverse("supply:public_photo", args=[public.pk, photo.pk, "web"])
    assert Client().get(address).status_code == 404


def test_an_erased_case_vanishes_from_the_notice(public: Notice, photo: Photo, case: Case) -> None:
    """Count, picture and links go; running it twice does no harm."""
    erase_case(case.pk)
    erase_part(case)

    assert not SubjectCase.objects.filter(case=case).exists()
    share = count_share(public.subject, FAULT)
    assert (share.hits, share.of, share.ends) == (0, 0, None)
    page = _page()
    assert "/photos/" not in page
    assert "%" not in re.sub(r"<[^>]*>", "", page.split("<h1>", 1)[1])


def test_erasing_takes_statements_and_the_letters_that_asked(case: Case, reviewer: User) -> None:
    maker = make_maker(reviewer, name="Tolvane")
    statement = write_statement(maker, case, NEUTRAL, actor=reviewer)
    asking = Asking(way="mail", to="care@tolvane.example", text=f"We say: {NEUTRAL}")
    ask_reply(statement, asking, actor=reviewer)

    erase_case(case.pk)

    assert not Statement.objects.filter(case=case).exists()
    assert not OutgoingMail.objects.filter(to="care@tolvane.example").exists()
    assert not maker.entries.filter(why__contains=NEUTRAL).exists()


def test_only_producers_make_it_public(
    notice: Notice, reviewer: User, producer: User, as_user: Callable[[User], Client]
) -> None:
    address = reverse("supply:ready", args=[notice.pk])
    sent = {"version": 1, "has_looked": "on"}

    refused = as_user(reviewer).post(address, sent)
    state = Notice.objects.get(pk=notice.pk).state
    made = as_user(producer).post(address, sent)

    assert (refused.status_code, state, made.status_code) == (403, NoticeState.DRAFT, 302)
    assert Notice.objects.get(pk=notice.pk).state == NoticeState.READY


def test_the_empty_page_says_so(db: None) -> None:
    assert "There is no notice at present." in _page()
    assert render_to_string("supply/_needs.html", {"needs": [], "done": "Yes."}).count("Yes.") == 1
