"""Bringing in a list of supporters, and how the roll reads."""

import datetime
from io import BytesIO
from typing import Any

import pytest

from helpdesk.aftershow import services
from helpdesk.aftershow.models import RollDraft, Supporter
from helpdesk.aftershow.roll import look_at_rows, make_roll, propose_columns
from helpdesk.core import clock
from helpdesk.core.errors import RefusedInputError

pytestmark = pytest.mark.django_db
LIST = (
    "Name;Pronounced;Consent;Since;Remark\n"
    "Zoë Okonjo;zo-ee;yes;2024;\n"
    "Ada Fenn;;no;2023;brings cake\n"
    "ada  fenn;;yes;;\n"
    ";;yes;;\n"
    "Bo Lind;;perhaps;;\n"
    "Cy Vane\n"
)


def read(text: str, actor: Any) -> RollDraft:
    return services.keep_list(BytesIO(text.encode()), label="list.csv", actor=actor)


def test_columns_are_proposed_from_their_headers():
    assert propose_columns(["Full name", "How it is said", "May be named", "Shoe size"]) == (
        "name",
        "said_as",
        "may_name",
        "",
    )


def test_list_is_looked_at_before_anybody_is_added(producer):
    draft = read(LIST, producer)

    looks = look_at_rows(draft.rows, draft.columns)

    assert [(look.what, look.why) for look in looks] == [
        ("new", ""),
        ("new", "not to be named"),
        ("refused", "The name stands in line 3 already."),
        ("refused", "There is no name."),
        ("refused", "“perhaps” says neither yes nor no to being named."),
        ("new", "not to be named"),
    ]
    assert not Supporter.objects.exists()


def test_list_brought_in_twice_changes_nothing_and_is_forgotten(producer):
    counts = services.bring_in(read(LIST, producer))
    again = services.bring_in(read(LIST, producer))

    assert counts == {"new": 3, "changed": 0, "known": 0, "refused": 3}
    assert again == {"new": 0, "changed": 0, "known": 3, "refused": 3}
    assert not RollDraft.objects.exists()
    assert Supporter.objects.get(name="Zoë Okonjo").said_as == "zo-ee"


def test_list_without_consent_names_nobody(producer):
    services.bring_in(read("Name\nAda\nBo\n", producer))

    assert make_roll(165).text == ""
    assert make_roll(165).unnamed_count == 2


def test_list_without_a_name_is_not_brought_in(producer):
    draft = read("A;B\n1;2\n", producer)

    with pytest.raises(RefusedInputError, match="which column is the name"):
        services.bring_in(draft)
    with pytest.raises(RefusedInputError, match="same thing"):
        services.set_columns(draft, ["name", "name"])


@pytest.mark.parametrize(("text", "why"), [("", "empty"), ("Name\n", "no row below")])
def test_list_that_is_none_is_refused(producer, text, why):
    with pytest.raises(RefusedInputError, match=why):
        read(text, producer)


def test_list_nobody_brings_in_is_forgotten_after_a_week(producer):
    draft = read(LIST, producer)

    with clock.standing_at(draft.made_at + datetime.timedelta(days=6)):
        assert services.purge_drafts() == 0
    with clock.standing_at(draft.made_at + datetime.timedelta(days=8)):
        assert services.purge_drafts() > 0


def test_roll_is_read_in_order_at_the_presenters_rate():
    for name in ("Zoë", "Élodie Marsh", "eric"):
        services.keep_supporter(None, {"name": name, "may_name": True})

    roll = make_roll(140)

    assert roll.text == "With thanks to Élodie Marsh; eric; Zoë."
    assert roll.words == 7
    assert roll.seconds == pytest.approx(7 * 60 / 140)


def test_name_cannot_hold_what_parts_names():
    with pytest.raises(RefusedInputError, match="semicolon"):
        services.keep_supporter(None, {"name": "Ada; Bo", "may_name": True})
