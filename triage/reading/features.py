"""A text as counted features: stems of words, pairs of stems, and pieces of words.

The pieces forgive spelling and word forms; the pairs keep a little of the order. Words that say
nothing of the fault, courtesy above all, are left out, so that a text made of them has none.
"""

from collections.abc import Iterator, Mapping
from itertools import pairwise

from triage.reading.tokens import READ_LIMIT, clean_words

PAIR_WEIGHT = 0.7  # of a pair of stems beside a stem [judgement: desk, 2026-11-25]
PIECE_WEIGHT = 0.25  # of a piece beside a stem [judgement: desk, 2026-11-25]
PIECE_LENGTH = 4  # characters, a word's ends counting as one each
NUMBER = "#"  # stands for any number: which one it is says less than that there is one

# What people write whatever is wrong: greetings, thanks, "see photo".
_COURTESY = (
    "advance advice advise anyways appreciate appreciated attached bye cause caused causes"
    " causing cheers dear evening everybody everyone fix fixed folks friend friends good"
    " greetings guys happen happened happening happens hello help helped helpful helping hey"
    " hi hope idea ideas image images issue issues kind look looking looks morning need needed"
    " newbie photo photos pic pics picture pictures please print printed printer printers"
    " printing prints problem problems question questions regards see seen show shown shows"
    " solution solve sorry suggestion suggestions thank thanks thankyou tip tips video wrong"
)
# The commonest words; other small ones, such as "only", "after" and "too", do help.
_COMMONEST = "a an and at be for i in is it me my of on or that the this to was with"
# Words of which alone no text is made that says something.
_GRAMMAR = (
    "a about all also am an and any anybody anyone anything are as at be because been but by"
    " can cant could did didnt do does doesnt doing done dont for from get getting go going"
    " got had has hasnt have havent having he her here him his how i id if ill im in into is"
    " isnt it its itself ive just know like may maybe me might mine must my myself no nor not"
    " of ok okay on or our perhaps quite rather really shall she should so some somebody"
    " someone something such than that thats the their them then there theres these they"
    " theyre thing things think this those to too us very was wasnt we were what whats when"
    " where which while who why will with wont would wouldnt yes yet you your"
)
LEFT_OUT = frozenset(_COURTESY.split()) | frozenset(_COMMONEST.split())
EMPTY_WORDS = LEFT_OUT | frozenset(_GRAMMAR.split())
DENIALS = frozenset({"cant", "doesnt", "dont", "isnt", "never", "no", "not", "without", "wont"})
DENIAL_REACH = 2  # words after a denial that it may be about
DENIED = "!"  # before a stem that is denied

_ENDINGS = ("ing", "edly", "ed", "ies", "es", "s", "ly")
_VOWELS = frozenset("aeiouy")
_LEAST_STEM = 3  # characters an ending leaves


def count_features(text: str) -> Mapping[str, float]:
    """Return how much of each feature a text holds; nothing when it says nothing.

    Parameters
    ----------
    text : str
        Only the first `READ_LIMIT` characters are read.

    Returns
    -------
    mapping of str to float
        Features are "stem", "!stem" for a denied one, "stem stem" for neighbours, and "…" plus a
        piece of a word.
    """
    stems = list(_stems(text))
    found: dict[str, float] = {}
    for stem in stems:
        found[stem] = found.get(stem, 0.0) + 1.0
    pieces = [piece for stem in found for piece in _pieces(stem)]
    for first, second in pairwise(stems):
        pair = f"{first} {second}"
        found[pair] = found.get(pair, 0.0) + PAIR_WEIGHT
    for piece in pieces:
        found[piece] = found.get(piece, 0.0) + PIECE_WEIGHT
    return found


def says_something(text: str) -> bool:
    """Return whether a text holds a word that may say something of what is wrong."""
    return any(word not in EMPTY_WORDS for word in clean_words(text[:READ_LIMIT]))


def _stems(text: str) -> Iterator[str]:
    """Yield the stems of the words that may say something, denied ones marked."""
    reach = 0
    for word in clean_words(text[:READ_LIMIT]):
        if word not in LEFT_OUT:
            kept = NUMBER if word[0].isdigit() else stem(word)
            yield f"{DENIED}{kept}" if reach > 0 else kept
        reach = DENIAL_REACH if word in DENIALS else reach - 1


def stem(word: str) -> str:
    """Return a word without its ending; crude, but the same for most forms of a word.

    What is left needs a vowel, as otherwise "string" would end in "ing".
    """
    for ending in _ENDINGS:
        left = word.removesuffix(ending)
        if left != word and len(left) >= _LEAST_STEM and not _VOWELS.isdisjoint(left):
            return left
    return word


def _pieces(stem: str) -> list[str]:
    """Return the pieces of a stem, none for one too short to be cut."""
    stem = stem.removeprefix(DENIED)
    if len(stem) < PIECE_LENGTH:
        return []
    marked = f"<{stem}>"
    return [f"…{marked[at : at + PIECE_LENGTH]}" for at in range(len(marked) - PIECE_LENGTH + 1)]
