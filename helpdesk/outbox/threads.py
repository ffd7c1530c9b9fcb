"""Message-IDs: which belong to a case, and how a letter names those before it.

Form and order after RFC 5322 section 3.6.4.
"""

import re

MOST_REFERENCES = 20  # keeps the header far below the line limit of RFC 5322
LONGEST_ID = 998  # characters, the longest line of RFC 5322 section 2.1.1
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
