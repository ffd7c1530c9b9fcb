"""Hooks for the opening: short lines that make people stay and do not give the answer away.

A hook is put together from our own frames and what anybody could see: the object, the machine, the
height it failed at, what shows on the print. It never has a telling word in it: a word of the
fault's name, or of the name of a remedy that cures it. A frame or a finding that would bring one in
is passed over, so what is left may be plain; it is never a spoiler.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

MOST_WORDS = 25
HOOKS = 3
LONGEST_TITLE_WORDS = 7
_WORD = re.compile(r"[^\W_]+")
_ENDINGS = ("ings", "ing", "ness", "edly", "ed", "ly", "ers", "er", "es", "s", "e", "y")
_SHORTEST_STEM = 3
# Words that tell nothing by themselves: grammar, and what every case of the show is about.
_PLAIN_WORDS = """
a about after again all almost along also an and any are around as at away back be been before
between both but by can do does down each few for from get gets go goes had has have held if in
into is it its keep kept less let lets like make many may more most much must never new no not
nothing of off often on once one only or other others out over own part parts per print printed
printer printers printing prints put same say set show shows so some something start starts
stay still such take than that the their them then there these they thing things this those
through time times to tonight too try two under until up upon use used uses very was way were what
when where which while who why will with within without you your
"""
_PLAIN = frozenset(_PLAIN_WORDS.split())

# Frames by what they need. Words in braces: finding, object, machine, height, tries.
_SEEN = (
    "Look closely: {finding}. What would you check first?",
    "{Object}: {finding}. The obvious guess may not be the right one.",
    "{Finding}. Would you have known where to look?",
    "Here is what we saw: {finding}. Make your guess before we make ours.",
    "{Object} came in with a riddle: {finding}.",
    "You may have met this at home: {finding}. Tonight somebody sent it in.",
)
_SEEN_HIGH = (
    "It failed at {height}, and this is what shows: {finding}.",
    "{Object}, {height} up: {finding}. What happened there?",
)
_TRIED = (
    "{Tries} came first, and still: {finding}.",
    "{Object}: {tries} came before ours. What would yours be?",
)
_HIGH = (
    "{Object} went wrong at {height}, and not a moment before. What happened there?",
    "Remember one figure tonight: {height}. {Object} has to do with it.",
)
_PLAINLY = (
    "{Object} did not turn out as hoped. See whether you can tell why before we do.",
    "One look at {object} says more than it seems to. Have your guess ready.",
    "{Object} deserves a second look. Watch for the small clue that settles it.",
    "What would you ask whoever made {object}? Write it down before we tell.",
)
_BARE = (
    "One riddle waits for you tonight. See whether you can solve it before we do.",
    "Somebody sent us a surprise this week. Watch for the small clue that settles it.",
    "Look twice at what comes next, and tell us what you saw.",
    "Have a guess ready tonight, and see whether you keep it.",
)
# No riddle is made of what can hurt somebody.
_SOBER = (
    "One report tonight comes with a warning first. Please stay for it.",
    "Tonight we also speak about safety, because of what somebody sent us.",
    "One thing we show tonight matters more than any other. Please listen to it.",
    "Something was sent to us that we take in earnest. Please hear what we say of it.",
    "Before you go and look at your own workshop tonight, hear what was sent to us.",
    "What we say of safety tonight is for everybody who listens. Please do not miss it.",
)
_COUNTS = ("no", "one", "two", "three", "four", "five", "six")


@dataclass(frozen=True)
class CaseStory:
    """What a hook may be made of, and the words it may not have.

    `findings` are what shows, as the knowledge puts it; `secrets` are names of faults and remedies.
    """

    case_id: int
    title: str = ""
    machine: str = ""
    material: str = ""
    height_mm: float | None = None
    findings: Sequence[str] = ()
    tries: int = 0
    is_dangerous: bool = False
    secrets: Sequence[str] = ()


@dataclass(frozen=True)
class Hook:
    """A proposed line and the case it is about."""

    case_id: int
    text: str


def propose_hooks(stories: Sequence[CaseStory], *, turn: int = 0, count: int = HOOKS) -> list[Hook]:
    """Return hooks for a show's cases, each case in its turn; another turn gives others.

    The same stories and turn always give the same hooks. Fewer come back only when there is no
    story at all.
    """
    hooks: list[Hook] = []
    texts: set[str] = set()
    for number in range(count if stories else 0):
        place = (number + turn * count) % len(stories)
        story = stories[place]
        # Another case or another turn starts at another frame, so that no two sound alike.
        skip = turn + number
        lines = [line for line in _lines_of(story) if line not in texts]
        if not lines:
            continue
        text = lines[skip % len(lines)]
        texts.add(text)
        hooks.append(Hook(story.case_id, text))
    return hooks


def telling_words(names: Iterable[str]) -> frozenset[str]:
    """Return the stems of the words of names that would give an answer away."""
    words = (word for name in names for word in _WORD.findall(name.casefold()))
    return frozenset(_stem(w) for w in words if w not in _PLAIN and len(w) >= _SHORTEST_STEM)


def gives_away(text: str, telling: frozenset[str]) -> bool:
    """Return True when a text has a telling word, in whatever form of it."""
    words = _WORD.findall(text.casefold())
    return any(w not in _PLAIN and _stem(w) in telling for w in words)


def _stem(word: str) -> str:
    """Return a word without its ending, so that "belts" and "belt" are one."""
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= _SHORTEST_STEM:
            return word.removesuffix(ending)
    return word


def _lines_of(story: CaseStory) -> list[str]:
    """Return every line that may be said of a case, the most particular first."""
    telling = telling_words(story.secrets)
    frames = list(_SOBER if story.is_dangerous else _fill(story, telling))
    fitting = [line for line in frames if _may_say(line, telling)]
    if len(fitting) < HOOKS and not story.is_dangerous:
        fitting += [line for line in _BARE if _may_say(line, telling)]
    return list(dict.fromkeys(fitting))


def _may_say(line: str, telling: frozenset[str]) -> bool:
    """Return True when a line is short enough and tells nothing."""
    return len(line.split()) <= MOST_WORDS and not gives_away(line, telling)


def _fill(story: CaseStory, telling: frozenset[str]) -> Iterator[str]:
    """Yield the frames that fit a case, filled in."""
    findings = [f for f in story.findings if not gives_away(f, telling)]
    thing = _name_thing(story, telling)
    values = {"object": thing, "Object": _capital(thing)}
    height = f"{story.height_mm:g} mm" if story.height_mm is not None else ""
    has_height = bool(height) and height not in thing  # once in a line is enough
    values["height"] = height
    if story.tries:
        count = _COUNTS[story.tries] if story.tries < len(_COUNTS) else str(story.tries)
        noun = "attempt" if story.tries == 1 else "attempts"
        values["tries"] = f"{count} {noun} of the maker’s own"
        values["Tries"] = _capital(values["tries"])
    for finding in findings:
        seen = values | {"finding": _small(finding), "Finding": _capital(finding)}
        frames = [*_SEEN]
        frames += _SEEN_HIGH if has_height else ()
        frames += _TRIED if story.tries else ()
        yield from (frame.format(**seen) for frame in frames)
    if has_height:
        yield from (frame.format(**values) for frame in _HIGH)
    yield from (frame.format(**values) for frame in _PLAINLY)


def _name_thing(story: CaseStory, telling: frozenset[str]) -> str:
    """Return how to speak of what was printed without telling what is wrong with it."""
    title = story.title.strip().rstrip(".")
    words = title.split()
    is_short = 0 < len(words) <= LONGEST_TITLE_WORDS and "…" not in title
    if is_short and not gives_away(title, telling):
        return f"“{title}”"
    for name in (story.machine, story.material):
        if name and not gives_away(name, telling):
            return f"somebody’s work in {name}" if name == story.material else f"a job on a {name}"
    return "somebody’s work"


def _capital(text: str) -> str:
    """Return a text with its first letter large."""
    return text[:1].upper() + text[1:]


def _small(text: str) -> str:
    """Return a text with its first letter small, unless its first word is a name or letters."""
    first = text.split(" ", 1)[0]
    return text if first[1:] != first[1:].lower() else text[:1].lower() + text[1:]
