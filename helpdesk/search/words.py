"""From what a person types to the words that are looked up."""

import re
import unicodedata

WORD = re.compile(r"[^\W_]+", re.UNICODE)
# What stands between two quotation marks of any kind, or up to the next one.
_QUOTED = re.compile(r"[\"“”„«»]([^\"“”„«»]*)[\"“”„«»]|([^\"“”„«»]+|[\"“”„«»])")
MAX_WORDS = 12
LONGEST = 60  # letters; what is longer is no word, and PostgreSQL refuses to look for it
# Words too common in reports to tell one from another; left out unless nothing else was typed.
COMMON = """
    a about after all also am an and any are as at be been but by can could did do does for from
    get got had has have he her his how i if in into is it its just like me my no not now of off on
    one or our out print printed printer printing prints she so some that the their them then there
    they this to too up us very was we were what when where which who why will with would you your
"""
STOP_WORDS = frozenset(COMMON.split())


def split_words(typed: str) -> list[str]:
    """Return the distinct words and phrases to look up, in the order typed.

    Words in quotation marks that stand on both sides are a phrase: one entry with single spaces.
    """
    folded = unicodedata.normalize("NFKC", typed).casefold()
    found: list[str] = []
    for quoted, free in _QUOTED.findall(folded):
        words = WORD.findall(quoted or free)
        found += [" ".join(words[:MAX_WORDS])] if quoted and words else words
    found = list(dict.fromkeys(found))
    telling = [word for word in found if word not in STOP_WORDS]
    return (telling or found)[:MAX_WORDS]


def longest_words(text: str, *, limit: int) -> list[str]:
    """Return the longest distinct words of a text, which tend to be its rarest."""
    words = {w for w in split_all(text) if w not in STOP_WORDS and 3 < len(w) <= LONGEST}
    return sorted(words, key=lambda w: (-len(w), w))[:limit]


def split_all(text: str) -> list[str]:
    """Return every word of a text, folded."""
    return WORD.findall(unicodedata.normalize("NFKC", text).casefold())
