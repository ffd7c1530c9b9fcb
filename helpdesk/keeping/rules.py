"""How long things are kept: every app registers a rule for what it holds.

An app registers in its own module named ``retention``, which is loaded at start-up. A rule finds
what is too old and removes a batch of it; it must be safe to run twice.
"""

import datetime
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.db.models import QuerySet

from helpdesk.core import clock

Find = Callable[[datetime.datetime], "QuerySet[Any]"]
Remove = Callable[[Sequence[int]], int]
_rules: dict[str, "Rule"] = {}


@dataclass(frozen=True)
class Rule:
    """What goes after how many days; `setting` names the number in `KEEP_DAYS`.

    `find` gets the moment before which things are too old; `remove` gets ids of what was found
    and returns how many it removed, which is fewer when somebody else was there first.
    """

    kind: str
    setting: str
    what: str
    find: Find
    remove: Remove

    @property
    def days(self) -> int:
        """Return for how many days this is kept; 0 keeps it."""
        return max(0, int(settings.KEEP_DAYS[self.setting]))

    @property
    def words(self) -> str:
        """Return the rule in words, as the log of removals says it."""
        return f"{self.what}, {self.days} days"

    def list_due(self) -> "QuerySet[Any]":
        """Return what is too old now, nothing when the rule is off."""
        if not self.days:
            return self.find(clock.now()).none()
        return self.find(clock.now() - datetime.timedelta(days=self.days))


def retention_rule(kind: str, *, setting: str, what: str, find: Find) -> Callable[[Remove], Remove]:
    """Register the function that removes what `find` finds; `what` says it in words."""

    def register(remove: Remove) -> Remove:
        _rules[kind] = Rule(kind=kind, setting=setting, what=what, find=find, remove=remove)
        return remove

    return register


def list_rules() -> Mapping[str, Rule]:
    """Return every rule by its kind."""
    return dict(_rules)
