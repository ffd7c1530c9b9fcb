"""Whether something adverse is said in neutral words: our own lists, each with what to say instead.

The rule behind them all: say what was found, on how many, under which conditions. The lists are a
judgement of the desk; they find words, not meanings, so a person decides.
"""

import re
from dataclasses import dataclass
from itertools import chain

from helpdesk.supply.loaded_words import RULES, Rule

RULE_OF_ALL = "Say what was found, on how many, and under which conditions."


@dataclass(frozen=True)
class Hit:
    """One wording to look at; `start` and `end` are characters of the text, None for a gap."""

    rule: str
    name: str
    phrase: str
    sentence: str
    instead: str
    start: int | None = None
    end: int | None = None


_NUMBER_WORDS = (
    "one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|"
    "a single|both|a dozen|once|twice"
)
_COUNT = re.compile(
    rf"(?<!\w)(?:\d+|{_NUMBER_WORDS})(?:\s+(?:of|out of)\s+(?:the\s+)?(?:\d+|{_NUMBER_WORDS}))?\s+"
    r"(?:\w+\s+){0,3}?(?:prints?|spools?|rolls?|parts?|nozzles?|printers?|cases?|reports?|people|"
    r"persons?|samples?|places?|pieces?|metres?|lengths?|bottles?|boards?|of them)(?!\w)"
    r"|(?<!\w)this (?:one )?(?:print|spool|roll|part|nozzle|printer|bottle|piece)(?!\w)",
    re.IGNORECASE,
)
_CONDITION = re.compile(
    r"\d\s*(?:°\s*C|°|mm|µm|um|μm|g|h|hours?|minutes?|days?|%|mm/s|bar|V|A|W)(?!\w)"
    r"|(?<!\w)(?:measured|after|when|while|during|under|with an?|with the|at|dried|opened|stored|"
    r"printed (?:on|with|at|from)|out of the (?:box|bag))(?!\w)",
    re.IGNORECASE,
)
_SENTENCE_END = re.compile(r"(?<=[.!?…])\s+|\n+")


def check_wording(text: str) -> list[Hit]:
    """Return every wording of a text that is not neutral, in its order, then what it leaves out."""
    found = chain.from_iterable(_find(rule, text) for rule in RULES)
    hits = sorted(found, key=lambda hit: (hit.start or 0, -(hit.end or 0)))
    return [*hits, *_shout(text), *_gaps(text)]


def _find(rule: Rule, text: str) -> list[Hit]:
    return [_hit(rule.id, rule.name, rule.instead, text, m) for m in rule.pattern.finditer(text)]


def _hit(rule_id: str, name: str, instead: str, text: str, match: re.Match[str]) -> Hit:
    return Hit(
        rule=rule_id,
        name=name,
        phrase=match[0],
        sentence=sentence_at(text, match.start()),
        instead=instead,
        start=match.start(),
        end=match.end(),
    )


def _shout(text: str) -> list[Hit]:
    """Return exclamation marks: they say how to feel, not what was found."""
    instead = "End the sentence with a full stop."
    return [_hit("exclamation", "Exclamation", instead, text, m) for m in re.finditer(r"!+", text)]


def _gaps(text: str) -> list[Hit]:
    """Return what the rule of all asks for and the text does not say."""
    missing = (
        (_COUNT, "count", "No count", "Say on how many it was found: “on 1 spool”."),
        (
            _CONDITION,
            "conditions",
            "No conditions",
            "Say under which conditions: “printed at 210 °C”, “measured after opening the bag”.",
        ),
    )
    return [
        Hit(rule=rule, name=name, phrase="", sentence=text.strip(), instead=instead)
        for pattern, rule, name, instead in missing
        if not pattern.search(text)
    ]


def sentence_at(text: str, place: int) -> str:
    """Return the sentence a character of a text stands in."""
    begin = 0
    for end in _SENTENCE_END.finditer(text):
        if end.start() > place:
            return text[begin : end.start()].strip()
        begin = end.end()
    return text[begin:].strip()
