"""Plain functions that make things for tests; every default may be overridden."""

import itertools
from typing import Any

from django.contrib.auth.models import Group

from helpdesk.accounts.models import User
from helpdesk.accounts.roles import make_roles
from helpdesk.cases.models import Case
from helpdesk.cases.services import Consent, NewReport, open_case

_numbers = itertools.count(1)


def make_user(username: str, *, role: str = "reviewer", **fields: Any) -> User:
    """Make an account with a role."""
    if not Group.objects.filter(name=role).exists():
        make_roles()
    user = User.objects.create_user(username, password="a-long-enough-secret", **fields)
    user.groups.add(Group.objects.get(name=role))
    return user


def make_case(**overrides: Any) -> Case:
    """Open a case the way a channel does; keyword arguments go to NewReport."""
    number = next(_numbers)
    values: dict[str, Any] = {
        "story": "The corners of my box curl up from the plate after an hour.",
        "submission_key": f"test-{number}",
        "facts": {"process": "MEX", "machine": "Tern 220", "material": "PLA"},
        "person_name": "Bettine Halvorsen",
        "email": "bettine@tarnstreet.example",
        "consent": Consent(),
    }
    case, _ = open_case(NewReport(**(values | overrides)))
    return case
