"""Who is who: telling, making one, taking apart, forgetting."""

import threading
from typing import Any

import pytest
from django.db import connection, connections
from django.forms.models import model_to_dict

from helpdesk.cases.erasure import erase_parts
from helpdesk.cases.models import Case, Channel, CreditKind
from helpdesk.cases.services import Consent, record_outcome
from helpdesk.core.jobs import run_due_jobs
from helpdesk.diagnosis.services import set_verdict
from helpdesk.outbox.models import OutgoingMail
from helpdesk.outbox.services import note_undelivered
from helpdesk.people import services
from helpdesk.people.errors import LastContactError, NotMergeableError
from helpdesk.people.models import Contact, ContactKind, Merge, Part, Person, Role, Verified
from helpdesk.people.selectors import (
    find_perhaps_same,
    get_person_page,
    list_case_people,
    list_credits,
    list_people,
)
from tests.factories import make_case

pytestmark = pytest.mark.django_db


def noted(**values: Any) -> Case:
    """Open a case and tell who it is from."""
    case = make_case(**values)
    services.note_people(case.pk)
    return case


def chatted(handle: str, where: str, **values: Any) -> Case:
    """Open a case of somebody known by a handle."""
    return noted(
        **({"email": "", "reply_channel": "chat", "handle": handle, "handle_where": where} | values)
    )


def whose(case: Case, role: str = Role.SUBMITTER) -> Person:
    return Part.objects.get(case=case, role=role).person


def dump() -> list[Any]:
    """Return every row about people but the merges themselves."""
    return [
        [model_to_dict(row) for row in model.objects.order_by("pk")]
        for model in (Person, Contact, Part)
    ]


def test_note_people_tells_the_same_address_whatever_its_case():
    first = noted(email="Bettine@Tarnstreet.example", person_name="Bettine")
    second = noted(email="bettine@tarnstreet.EXAMPLE", person_name="B. Halvorsen")

    assert whose(first) == whose(second)
    assert whose(first).name == "Bettine"
    assert Contact.objects.count() == 1


def test_note_people_never_takes_the_same_name_for_the_same_person():
    one = noted(email="a@tarnstreet.example", person_name="Sam Oduya")
    other = noted(email="b@tarnstreet.example", person_name="Sam Oduya")
    nameless = noted(email="", person_name="Sam Oduya")

    assert len({whose(one).pk, whose(other).pk, whose(nameless).pk}) == 3


def test_note_people_tells_a_handle_in_its_place_only():
    one = chatted("@Kiln", "Marrow Lane chat")
    same = chatted("kiln", "marrow lane  Chat")
    elsewhere = chatted("kiln", "Harbour forum")

    assert whose(one) == whose(same)
    assert whose(one) != whose(elsewhere)


def test_note_people_takes_a_handle_of_no_place_for_nobody_known():
    one = chatted("kiln", "")
    other = chatted("kiln", "")

    assert whose(one) != whose(other)
    assert Contact.objects.filter(key="kiln").count() == 2


def test_note_people_twice_changes_nothing():
    case = noted(handle="kiln", handle_where="the chat")
    chatted("wren", "")
    before = dump()

    for _ in range(2):
        for pk in Case.objects.values_list("pk", flat=True):
            services.note_people(pk)

    assert dump() == before
    assert {p.role for p in case.parts.all()} == {Role.SUBMITTER, Role.OWNER}


def test_note_people_links_each_new_case_by_its_job():
    case = make_case()

    run_due_jobs()

    assert whose(case).name == "Bettine Halvorsen"


def test_note_people_keeps_finder_and_owner_apart():
    case = noted(
        is_own_print=False,
        owner_name="Aurel",
        owner_link="https://social.example/@aurel/5",
        person_name="Bettine",
    )

    assert whose(case, Role.FINDER) == whose(case, Role.SUBMITTER)
    owner = whose(case, Role.OWNER)
    assert owner.name == "Aurel"
    assert owner != whose(case)
    assert owner.contacts.get().kind == ContactKind.LINK


def test_note_people_does_not_take_a_post_for_a_person():
    """Two people may own two prints shown in one post."""
    post = "https://social.example/post/7"
    one = noted(is_own_print=False, owner_name="Aurel", owner_link=post)
    other = noted(is_own_print=False, owner_name="Ilse", owner_link=post)

    assert whose(one, Role.OWNER) != whose(other, Role.OWNER)


def test_note_people_knows_nobody_where_nothing_was_given():
    case = noted(email="", person_name="")

    assert not case.parts.exists()
    assert not Person.objects.exists()


def test_note_people_leaves_an_erased_case_alone():
    case = make_case()
    Case.objects.filter(pk=case.pk).update(erased_at=case.opened_at)

    assert services.note_people(case.pk) == ()


def test_note_people_adds_an_address_given_later():
    case = noted(email="old@tarnstreet.example")
    Case.objects.filter(pk=case.pk).update(email="new@tarnstreet.example")

    services.note_people(case.pk)

    assert whose(case).contacts.count() == 2


def test_note_people_leaves_somebody_elses_address_theirs_and_says_so():
    """A form may name any address: that alone takes nobody's cases from them."""
    owner = whose(noted(email="bettine@tarnstreet.example"))
    handle = whose(chatted("kiln", "the chat"))
    both = noted(email="bettine@tarnstreet.example", handle="kiln", handle_where="the chat")

    assert whose(both) == owner
    assert Contact.objects.get(key="kiln").person == handle
    assert find_perhaps_same(owner) == [handle]


def test_contact_knows_how_the_address_is_known(reviewer):
    case = noted()
    contact = Contact.objects.get()
    assert contact.verified == Verified.SAID

    noted(channel=Channel.MAIL)
    contact.refresh_from_db()
    assert contact.verified == Verified.WROTE

    services.check_contact(contact)
    services.note_people(case.pk)
    contact.refresh_from_db()
    assert contact.verified == Verified.CHECKED


def test_contact_tells_that_letters_do_not_arrive(client):
    case = noted()
    mail = OutgoingMail.objects.create(
        case=case,
        kind="receipt",
        dedupe_key="r",
        to=case.email,
        subject="s",
        text="t",
        message_id="<a@b.example>",
        created_at=case.opened_at,
        sent_at=case.opened_at,
    )
    note_undelivered(message_id=mail.message_id, status="5.1.1", words="No such mailbox")

    (shown,) = get_person_page(whose(case)).contacts

    assert shown.is_undeliverable


def test_merge_brings_cases_and_addresses_together(reviewer):
    one, other = whose(noted()), whose(chatted("kiln", "the chat", person_name="Kiln"))
    services.change_person(other, {"said_as": "kill-n", "notes": "Likes moss green."})

    services.merge_people(one.pk, other.pk, by=reviewer)

    one.refresh_from_db()
    assert one.name == "Bettine Halvorsen"
    assert (one.said_as, one.notes) == ("kill-n", "Likes moss green.")
    assert len(get_person_page(one).cases) == 2
    assert whose(chatted("KILN", "the chat")) == one
    assert [p.pk for p in list_people("").rows] == [one.pk]


def test_merge_undone_restores_exactly(reviewer):
    """Every row of both people is as it was, notes of both too."""
    one = whose(noted())
    other = whose(chatted("kiln", "the chat", is_own_print=False, owner_name="Aurel"))
    services.change_person(one, {"notes": "Comes on Thursdays."})
    services.change_person(
        other, {"notes": "Likes moss green.", "said_as": "kill-n", "credit_kind": "handle"}
    )
    before = dump()

    merge = services.merge_people(one.pk, other.pk, by=reviewer)
    assert dump() != before
    services.undo_merge(merge.pk)

    assert dump() == before


def test_merge_of_merged_is_undone_from_the_latest(reviewer):
    a, b, c = (whose(noted(email=f"{name}@tarnstreet.example")) for name in "abc")
    before = dump()
    first = services.merge_people(b.pk, c.pk, by=reviewer)
    second = services.merge_people(a.pk, b.pk, by=reviewer)
    assert a.parts.count() == 6

    with pytest.raises(NotMergeableError, match="later merge"):
        services.undo_merge(first.pk)
    services.undo_merge(second.pk)
    services.undo_merge(first.pk)

    assert dump() == before
    with pytest.raises(NotMergeableError, match="already"):
        services.undo_merge(first.pk)


def test_merge_undone_leaves_what_came_since(reviewer):
    one, other = whose(noted()), whose(chatted("kiln", "the chat"))
    merge = services.merge_people(one.pk, other.pk, by=reviewer)
    late = noted()
    one.refresh_from_db()
    services.change_person(one, {"notes": "Written since."})

    services.undo_merge(merge.pk)

    one.refresh_from_db()
    assert whose(late) == one
    assert one.notes == "Written since."


def test_merge_needs_two(reviewer):
    one, other = whose(noted()), whose(chatted("kiln", "the chat"))
    with pytest.raises(NotMergeableError, match="one person already"):
        services.merge_people(one.pk, one.pk, by=reviewer)
    services.merge_people(one.pk, other.pk, by=reviewer)

    with pytest.raises(NotMergeableError, match="one person already"):
        services.merge_people(one.pk, other.pk, by=reviewer)


def test_split_takes_an_address_with_its_cases():
    kept = noted(email="bettine@tarnstreet.example")
    other = noted(email="bettine@tarnstreet.example", handle="kiln", handle_where="the chat")
    by_handle = chatted("kiln", "the chat", person_name="Aurel")
    person = whose(kept)
    contact = Contact.objects.get(key="kiln")

    new = services.split_contact(contact.pk)

    assert whose(by_handle) == new
    assert new.name == "Aurel"
    assert whose(kept) == whose(other) == person
    services.note_people(by_handle.pk)
    assert whose(by_handle) == new


def test_split_of_the_only_address_is_refused():
    case = noted()

    with pytest.raises(LastContactError, match="nobody to part"):
        services.split_contact(Contact.objects.get().pk)
    assert whose(case).contacts.count() == 1


def test_erasing_the_only_case_forgets_the_person():
    case = noted(handle="kiln", handle_where="the chat")

    erase_parts(case)

    assert not Person.objects.exists()
    assert not Contact.objects.exists()


def test_erasing_one_case_keeps_what_the_others_hold(reviewer):
    """An address and a name only the erased case held are gone, an undo of a merge brings none."""
    kept = noted(email="bettine@tarnstreet.example", person_name="Bettine")
    gone = chatted("zanzibarquince", "the chat", person_name="Zanzibarquince")
    person = whose(kept)
    merge = services.merge_people(whose(gone).pk, person.pk, by=reviewer)
    assert whose(kept).name == "Zanzibarquince"

    erase_parts(gone)

    assert "anzibarquince" not in str(dump()) + str(list(Merge.objects.values()))
    assert whose(kept).name == "Bettine"
    services.undo_merge(merge.pk)
    assert whose(kept) == person


def test_erasing_the_case_of_who_was_merged_forgets_their_row(reviewer):
    kept, gone = noted(), chatted("zanzibarquince", "the chat", person_name="Zanzibarquince")
    services.merge_people(whose(kept).pk, whose(gone).pk, by=reviewer)

    erase_parts(gone)

    assert "anzibarquince" not in str(dump()) + str(list(Merge.objects.values()))
    assert Person.objects.get() == whose(kept)


def test_case_panel_tells_earlier_cases_and_the_last_outcome(reviewer):
    first = noted()
    set_verdict(first, ["belt-loose"], actor=reviewer)
    record_outcome(first, result="worked")
    second = noted()

    (shown,) = list_case_people(second)

    assert (shown.earlier, shown.last_outcome) == (1, "Worked")
    assert list_case_people(first)[0].earlier == 0
    row = get_person_page(shown.person).cases[1]
    assert row.case == first
    assert row.outcome == "Worked"
    assert row.fault == first.verdicts.get().fault_name


def test_credits_name_finder_and_owner_apart():
    case = noted(
        is_own_print=False,
        owner_name="Aurel",
        person_name="Bettine",
        consent=Consent(credit_kind=CreditKind.NAME, credit_as="Bettine"),
    )
    Case.objects.filter(pk=case.pk).update(credit_kind=CreditKind.NAME, credit_as="Bettine")
    case.refresh_from_db()
    services.change_person(whose(case), {"said_as": "bet-TEE-neh"})
    part = Part.objects.get(case=case, role=Role.OWNER)
    assert [(c.role, c.name) for c in list_credits(case)] == [("found by", "Bettine")]

    services.credit_owner(part, kind=CreditKind.NAME, name="")

    credits = [(c.role, c.name, c.said_as) for c in list_credits(case)]
    assert credits == [("found by", "Bettine", "bet-TEE-neh"), ("owner", "Aurel", "")]


def test_credits_of_nobody_named_are_none():
    assert list_credits(noted()) == []


@pytest.mark.django_db(transaction=True)
def test_note_people_at_once_makes_one_person():
    """Two processes that meet a new address together agree on whose it is."""
    if connection.vendor == "sqlite":
        pytest.skip("in-memory SQLite has one connection")
    cases = [make_case() for _ in range(4)]
    errors = []

    def run(pk: int) -> None:
        try:
            services.note_people(pk)
        except Exception as error:  # noqa: BLE001 - shown below
            errors.append(error)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(case.pk,)) for case in cases]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert errors == []
    assert Contact.objects.count() == 1
