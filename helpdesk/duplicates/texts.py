"""Whether two stories are the same words: what is looked up, and how alike two of them are."""

import hashlib
import math
import re
import unicodedata
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import parse_qsl, urlencode, urlsplit

RUN = 4  # words of a run that is looked up
WINDOW = 4  # of runs, one is kept: any seven words two texts share in a row are found
MOST_MARKS = 48
SHORTEST = 15  # words: a shorter text may be a set phrase, and many people write the same
RUN_COMPARED = 3
_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)*")
# What tells where a visitor came from and not what is shown (common practice, no source).
TRACKING = re.compile(
    r"utm_\w+|fbclid|gclid|igsh(id)?|mc_[ce]id|ref(_src)?|si|feature|share\w*|source"
)
# Hosts of the same page for phones and for scripts (common practice, no source).
_SAME_HOST = re.compile(r"^(?:www|m|mobile|old|touch|amp)\.")
LINK = re.compile(r"https?://[^\s<>\"')\]]+")


@dataclass(frozen=True)
class Likeness:
    """How alike two texts are, from 0 to 1.

    `contained` is the share of the shorter one's runs that stand in the other; `cosine` compares
    their words, each weighed by how rare it is. Texts too short to tell are not alike.
    """

    contained: float
    cosine: float


def split_words(text: str) -> list[str]:
    """Return the words of a text as they are compared: small letters, no marks, no accents."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    return _WORD.findall("".join(c for c in plain if not unicodedata.combining(c)))


def mark_text(text: str) -> tuple[int, ...]:
    """Return what a text is looked up by: of every few runs of words, the one of least sum.

    The choice (S. Schleimer, D. S. Wilkerson and A. Aiken, "Winnowing: local algorithms for
    document fingerprinting", SIGMOD 2003, from memory) depends on the runs alone, so a copied
    passage keeps its marks whatever stands around it.
    """
    words = split_words(text)
    sums = [number_of(" ".join(words[at : at + RUN])) for at in range(len(words) - RUN + 1)]
    if len(words) < SHORTEST:
        return ()
    chosen = dict.fromkeys(
        min(sums[at : at + WINDOW]) for at in range(max(1, len(sums) - WINDOW + 1))
    )
    return tuple(sorted(chosen)[:MOST_MARKS])


def number_of(words: str) -> int:
    """Return a number of 63 bits for words, the same in every process."""
    digest = hashlib.blake2b(words.encode("utf-8", "surrogatepass"), digest_size=8).digest()
    return int.from_bytes(digest, "big") >> 1


def compare_texts(one: str, other: str, rarity: Mapping[str, float]) -> Likeness:
    """Compare two texts; `rarity` weighs words, and one it does not know counts as the rarest."""
    first, second = split_words(one), split_words(other)
    if min(len(first), len(second)) < SHORTEST:
        return Likeness(0.0, 0.0)
    runs_a, runs_b = _runs(first), _runs(second)
    contained = len(runs_a & runs_b) / min(len(runs_a), len(runs_b))
    return Likeness(contained, _cosine(Counter(first), Counter(second), rarity))


def weigh_texts(texts: Sequence[str]) -> dict[str, float]:
    """Return the rarity of each word: the logarithm of how many texts there are for one with it."""
    counts = Counter(word for text in texts for word in set(split_words(text)))
    return {word: math.log((1 + len(texts)) / (1 + n)) + 0.1 for word, n in counts.items()}


def plain_link(link: str) -> str:
    """Return a link without what differs between two ways to the same page, "" for none."""
    try:
        parts = urlsplit(link.strip())
        host, port = parts.hostname or "", parts.port
    except ValueError:  # no address after RFC 3986
        return ""
    if parts.scheme not in ("http", "https") or not host:
        return ""
    kept = [
        pair
        for pair in parse_qsl(parts.query, keep_blank_values=True)
        if not TRACKING.fullmatch(pair[0].lower())
    ]
    where = _SAME_HOST.sub("", host) + (f":{port}" if port and port not in (80, 443) else "")
    path = re.sub("/+", "/", parts.path).rstrip("/")
    if not path and not kept:  # a whole site is no post
        return ""
    return where + path + (f"?{urlencode(sorted(kept))}" if kept else "")


def find_links(text: str) -> set[str]:
    """Return the plain form of the links that stand in a text."""
    return {plain for each in LINK.findall(text) if (plain := plain_link(each.rstrip(".,;:!?")))}


def _runs(words: Sequence[str]) -> set[tuple[str, ...]]:
    return {tuple(words[at : at + RUN_COMPARED]) for at in range(len(words) - RUN_COMPARED + 1)}


def _cosine(one: Counter[str], other: Counter[str], rarity: Mapping[str, float]) -> float:
    rarest = max(rarity.values(), default=1.0)

    def weighed(counts: Counter[str]) -> dict[str, float]:
        return {w: (1 + math.log(n)) * rarity.get(w, rarest) for w, n in counts.items()}

    a, b = weighed(one), weighed(other)
    shared = sum(value * b[word] for word, value in a.items() if word in b)
    length = math.sqrt(sum(v * v for v in a.values()) * sum(v * v for v in b.values()))
    return min(1.0, shared / length) if length else 0.0
