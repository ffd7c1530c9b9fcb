"""The addresses a case gives of its people, each in its one written form."""

from dataclasses import dataclass

from helpdesk.cases.models import Case, Channel
from helpdesk.people.addresses import handle_key, link_key, mail_key, place_key
from helpdesk.people.models import ContactKind, Verified

BY_HANDLE = (Channel.CHAT, Channel.DIRECT, Channel.SOCIAL)


@dataclass(frozen=True, kw_only=True)
class Given:
    """An address as a case gives it; `key` is its one written form."""

    kind: str
    value: str
    key: str
    place: str = ""
    place_key: str = ""
    verified: str = Verified.SAID

    @property
    def tells_who(self) -> bool:
        """Return True when this address alone says whose it is; a link to a post does not."""
        is_placed = self.kind == ContactKind.HANDLE and bool(self.place_key)
        return self.kind == ContactKind.MAIL or is_placed


def list_given(case: Case) -> list[Given]:
    """Return the addresses the sender of a case gave, the surest first."""
    found = []
    if key := mail_key(case.email):
        wrote = case.channel == Channel.MAIL
        verified = Verified.WROTE if wrote else Verified.SAID
        found.append(Given(kind=ContactKind.MAIL, value=case.email, key=key, verified=verified))
    if key := handle_key(case.handle):
        found.append(
            Given(
                kind=ContactKind.HANDLE,
                value=case.handle,
                key=key,
                place=case.handle_where,
                place_key=place_key(case.handle_where),
                verified=Verified.WROTE if case.channel in BY_HANDLE else Verified.SAID,
            )
        )
    return found


def list_given_link(case: Case) -> list[Given]:
    """Return the address of the post a print that was passed on was seen at."""
    if not case.owner_link:
        return []
    key = link_key(case.owner_link)
    return [Given(kind=ContactKind.LINK, value=case.owner_link, key=key)]


def list_all_given(case: Case) -> list[Given]:
    """Return every address a case holds, of whomever."""
    return [*list_given(case), *list_given_link(case)]
