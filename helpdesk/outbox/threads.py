"""Message-IDs: which belong to a case, and how a letter names those before it.

Form and order after RFC 5322 section 3.6.4.
"""

import re

from helpdesk.outbox.models import IncomingId, MailKind, OutgoingMail

MOST_REFERENCES = 20  # keeps the header far below the line limit of RFC 5322
LONGEST_ID = 998  # characters, the longest line of RFC 5322 section 2.1.1
SUBJECT_LIMIT = 150
ANSWERING = frozenset({MailKind.QUESTION, MailKind.ANSWER})
# What mail programs of several languages put before a subject (common practice, no source).
_PREFIX = re.compile(r"(?:\s*(?:re|aw|antw|sv|vs|odp)\s*(?:\[\d{1,3}\])?\s*:)+\s*", re.IGNORECASE)
_ID = re.compile(r"<[^<>\s\x00-\x1f\x7f]+@[^<>\s\x00-\x1f\x7f]+>")


def find_ids(header: str) -> list[str]:
    """Return the Message-IDs in a header's value, in its order, each once."""
    found = (match[0] for match in _ID.finditer(header))
    return list(dict.fromkeys(each for each in found if len(each) <= LONGEST_ID))


def shorten(thread: list[str]) -> list[str]:
    """Return the ids of a thread that a letter names: the first of all and the latest."""
    if len(thread) <= MOST_REFERENCES:
        return thread
    return [thread[0], *thread[1 - MOST_REFERENCES :]]


def list_thread(mail: OutgoingMail) -> list[str]:
    """Return the ids a letter names before it, oldest first: its parent is the last."""
    if mail.case_id is None:
        return []  # letters about no case have nothing in common
    earlier = OutgoingMail.objects.filter(case=mail.case_id, pk__lt=mail.pk, undelivered_at=None)
    sent = [(row.sent_at or row.created_at, [row.message_id]) for row in earlier]
    came = [
        (row.noted_at, [*find_ids(row.references), row.message_id])
        for row in IncomingId.objects.filter(case=mail.case_id)
    ]
    ids: dict[str, None] = {}
    for _, names in sorted([*sent, *came], key=lambda entry: entry[0]):
        for name in names[:-1]:
            ids.setdefault(name)
        ids.pop(names[-1], None)  # the latest letter is the parent, whoever named it before
        ids[names[-1]] = None
    return shorten(list(ids))


def reply_subject(mail: OutgoingMail, thread: list[str]) -> str:
    """Return a letter's subject: that of the mail it answers after one "Re: ", else its own."""
    if mail.kind not in ANSWERING or not thread or mail.case_id is None:
        return mail.subject
    parent = IncomingId.objects.filter(case=mail.case_id, message_id=thread[-1]).first()
    if parent is None:
        return mail.subject
    said = parent.subject or mail.subject
    opening = _PREFIX.match(said)
    bare = said[opening.end() :] if opening else said
    return f"Re: {bare}"[:SUBJECT_LIMIT]
