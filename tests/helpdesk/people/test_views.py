"""The pages of people, as a reviewer uses them."""

import pytest
from django.urls import reverse

from helpdesk.cases.models import Event
from helpdesk.people.models import Contact, Merge, Part, Person, Role
from helpdesk.people.services import merge_people, note_people
from tests.factories import make_case

pytestmark = pytest.mark.django_db


@pytest.fixture
def desk(as_user, reviewer):
    """Return a reviewer's browser."""
    return as_user(reviewer)


@pytest.fixture
def person():
    """Return somebody with one case and two addresses."""
    case = make_case(handle="kiln", handle_where="the chat")
    note_people(case.pk)
    return Person.objects.get()


def test_people_are_found_by_name_and_address(desk, person):
    for words in ("halvorsen", "TARNSTREET", "kiln", "bettine kiln"):
        assert "Bettine Halvorsen" in desk.get("/people", {"words": words}).content.decode()

    nothing = desk.get("/people", {"words": "quxbury"}).content.decode()
    assert "Nobody found" in nothing
    assert "Bettine" not in nothing


def test_person_shows_addresses_only_when_asked_and_notes_it(desk, person):
    page = desk.get(person.get_absolute_url()).content.decode()
    assert "bettine@tarnstreet.example" not in page

    shown = desk.post(reverse("people:reveal", args=[person.pk])).content.decode()

    assert "bettine@tarnstreet.example" in shown
    assert Event.objects.get(kind="contact_shown").actor_name == "Imke"


def test_person_is_changed_or_told_what_is_wrong(desk, person):
    address = person.get_absolute_url()
    kept = {"name": "Bettine H.", "said_as": "bet-TEE-neh", "credit_kind": "name", "notes": "x"}

    assert desk.post(address, kept).status_code == 302
    refused = desk.post(address, kept | {"name": "x" * 81})

    person.refresh_from_db()
    assert (person.name, person.said_as) == ("Bettine H.", "bet-TEE-neh")
    assert refused.status_code == 422
    assert "x" * 81 in refused.content.decode()


def test_merge_shows_both_then_makes_one_then_undoes(desk, person):
    other = make_case(email="b@quay.example", person_name="Aurel")
    note_people(other.pk)
    gone = Part.objects.get(case=other, role=Role.OWNER).person
    address = reverse("people:merge", args=[person.pk])

    asked = desk.get(address, {"gone": gone.pk}).content.decode()
    assert "Aurel" in asked
    assert not Merge.objects.exists()
    done = desk.post(address, {"gone": gone.pk})

    assert done["Location"] == person.get_absolute_url()
    assert desk.get(gone.get_absolute_url())["Location"] == person.get_absolute_url()
    desk.post(reverse("people:undo_merge", args=[Merge.objects.get().pk]))
    gone.refresh_from_db()
    assert gone.merged_into is None


@pytest.mark.parametrize("number", ["", "x", "0", "99999999999999999999", "999999"])
def test_merge_with_nobody_says_so(desk, person, number):
    response = desk.post(reverse("people:merge", args=[person.pk]), {"gone": number})

    assert response.status_code == 422
    assert "number" in response.content.decode()


def test_merge_with_itself_says_so(desk, person):
    response = desk.post(reverse("people:merge", args=[person.pk]), {"gone": person.pk})

    assert response.status_code == 422
    assert "one person already" in response.content.decode()


def test_split_and_check_act_on_own_contacts_only(desk, person):
    other = make_case(email="b@quay.example")
    note_people(other.pk)
    foreign = Contact.objects.get(key="b@quay.example")

    for name in ("split", "check_contact"):
        address = reverse(f"people:{name}", args=[person.pk, foreign.pk])
        assert desk.post(address).status_code == 404

    contact = Contact.objects.get(key="kiln")
    desk.post(reverse("people:check_contact", args=[person.pk, contact.pk]))
    response = desk.post(reverse("people:split", args=[person.pk, contact.pk]), {"name": "Kiln"})
    contact.refresh_from_db()
    assert contact.verified == "checked"
    assert contact.person.name == "Kiln"
    assert response["Location"] == contact.person.get_absolute_url()


def test_split_of_the_last_address_says_why(desk):
    note_people(make_case().pk)
    contact = Contact.objects.get()

    response = desk.post(reverse("people:split", args=[contact.person_id, contact.pk]), follow=True)

    assert "nobody to part" in response.content.decode()


def test_case_page_tells_who_it_is_to_everybody_of_the_desk(as_user, reviewer, producer, person):
    case = person.parts.first().case
    address = reverse("people:case_panel", args=[case.pk])

    page = as_user(reviewer).get(case.get_absolute_url()).content.decode()
    panel = as_user(producer).get(address).content.decode()

    assert address in page
    assert "Bettine Halvorsen" in panel
    assert person.get_absolute_url() not in panel
    assert person.get_absolute_url() in as_user(reviewer).get(address).content.decode()


def test_owner_of_a_print_passed_on_is_credited_apart(desk):
    case = make_case(is_own_print=False, owner_name="Aurel")
    note_people(case.pk)
    address = reverse("people:credit_owner", args=[case.pk])

    response = desk.post(
        address, {"credit_kind": "name", "credit_as": "Aurel"}, headers={"HX-Request": "true"}
    )
    refused = desk.post(address, {"credit_kind": "crown", "credit_as": ""})

    assert '<q dir="auto">Aurel</q>' in response.content.decode()
    assert refused.status_code == 422
    own = make_case()
    note_people(own.pk)
    assert desk.post(reverse("people:credit_owner", args=[own.pk])).status_code == 404


def test_merged_person_opens_no_form(desk, person, reviewer):
    other = make_case(email="b@quay.example")
    note_people(other.pk)
    gone = Part.objects.get(case=other, role=Role.OWNER).person
    merge_people(person.pk, gone.pk, by=reviewer)

    assert desk.post(reverse("people:reveal", args=[gone.pk])).status_code == 404
    assert desk.get(reverse("people:merge", args=[gone.pk])).status_code == 404
