"""Invented shows with captions, their true parts and their run sheets, for measuring a cut.

A show is made of utterances: manners of presenting come from `styles/`, what is told of a failed
print from the knowledge's own stories and texts. Everything follows from the seed. Styles to learn
from and unseen ones are written apart, so that a cut is measured on wording it never learned.
"""

import random
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from tests.triage.captions.speech import Utterance, speak, write_captions
from triage.captions import Kind, PlannedPart
from triage.knowledge import KNOWLEDGE_FOLDER, Knowledge, load_knowledge, load_stories

STYLES = Path(__file__).parent / "styles"
_SENTENCE = re.compile(r"(?<=[.?!])\s+|\n+")
THINGS = [
    "bowl",
    "dragon",
    "phone stand",
    "lampshade",
    "gear box",
    "plant pot",
    "chess rook",
    "cable clip",
    "helmet",
    "bracket",
    "vase",
    "hinge",
    "tool holder",
    "castle",
    "whistle",
    "funnel",
    "bird feeder",
    "boat hull",
    "door wedge",
    "coaster",
    "pencil tray",
    "rocket",
    "drawer handle",
    "mask",
    "wheel rim",
    "bust of a goat",
    "tent peg",
    "camera mount",
    "spool rack",
    "flute",
    "snowflake",
    "pump housing",
    "toy train",
    "shelf pin",
    "knob",
    "lantern",
    "owl",
    "soap dish",
    "drone frame",
    "key rack",
    "elephant",
    "cookie cutter",
    "rain gauge",
    "marble run",
    "fan shroud",
    "violin rest",
]
NAMES = [
    "Bettine",
    "Corin",
    "Halvard",
    "Priya",
    "Osric",
    "Maud",
    "Tobiah",
    "Yusra",
    "Leocadia",
    "Fenwick",
    "Ingeborg",
    "Dacre",
    "Nolwenn",
    "Caspian",
    "Wilhelmina",
    "Aurelio",
    "Thandeka",
    "Rufus",
    "Sunniva",
    "Ezra",
    "Mirela",
    "Jocasta",
    "Barnaby",
    "Solveig",
    "Amadou",
]
PLACES = [
    "Harrowfield",
    "Little Wexcombe",
    "Tarn Street",
    "Ostbrook",
    "Port Ellery",
    "Dunmarsh",
    "Vell",
    "Saint Orrin",
    "Kettlewick",
    "Nether Poole",
    "Grauhafen",
    "the north coast",
    "Upper Lind",
    "Brackwater",
]
MACHINES = ("Tern 220", "Corvid C1", "Plover Mini", "Siskin R4")
MATERIALS = ("PLA", "PETG", "ABS", "ASA", "TPU", "nylon", "resin", "polycarbonate")
ALTERNATIVES = (
    "It could also be {fault}.", "Some would say {fault}.", "At first I thought of {fault}.",
    "{fault}? I doubt it.", "You could mistake it for {fault}.", "Not {fault}, I think.",
)  # fmt: skip


@dataclass(frozen=True)
class Style:
    """A manner of presenting."""

    name: str
    hosts: int
    lines: Mapping[str, tuple[str, ...]]
    automatic: bool = False


@dataclass(frozen=True)
class TruePart:
    """A part as it is in the show."""

    start_s: float
    kind: Kind
    slug: str


@dataclass(frozen=True)
class Show:
    """Captions with what is true about them."""

    style: str
    seed: int
    data: bytes
    parts: tuple[TruePart, ...]
    end_s: float
    run_sheet: tuple[PlannedPart, ...]
    sheet_at: tuple[int | None, ...]  # for each true part its place in the run sheet


@dataclass
class _Draft:
    """A part while it is written."""

    kind: Kind
    slug: str
    said: list[Utterance] = field(default_factory=list)
    script: str = ""
    words: str = ""
    is_planned: bool = True


@lru_cache(maxsize=1)
def _content() -> tuple[Knowledge, dict[str, list[str]]]:
    knowledge = load_knowledge()
    stories: dict[str, list[str]] = {}
    for story in load_stories(knowledge, KNOWLEDGE_FOLDER):
        stories.setdefault(story.faults[0], []).append(story.text)
    return knowledge, {fault: texts for fault, texts in stories.items() if len(texts) > 12}


@lru_cache(maxsize=2)
def load_styles(name: str) -> tuple[Style, ...]:
    """Return the styles of a file: "learning" or "unseen"."""
    data = tomllib.loads((STYLES / f"{name}.toml").read_text(encoding="utf-8"))
    return tuple(
        Style(
            key,
            entry.pop("hosts"),
            automatic=entry.pop("automatic", False),
            lines={kind: tuple(lines) for kind, lines in entry.items()},
        )
        for key, entry in data.items()
    )


def make_shows(
    name: str, *, each: int, seed: int, unannounced: tuple[float, ...] = (0.0,)
) -> Iterator[Show]:
    """Yield so many shows of each style of a file, with shares of unannounced cases in turn."""
    for style in load_styles(name):
        for number in range(each):
            share = unannounced[number % len(unannounced)]
            yield make_show(style, seed=seed * 1000 + number, unannounced=share)


def make_show(style: Style, *, seed: int, unannounced: float = 0.0) -> Show:
    """Return a show; the same style and seed give the same show.

    Of its cases the share `unannounced` comes without any words of opening or closing, so that a
    model that learns from it has to look at more than these.
    """
    rng = random.Random(f"{style.name} {seed}")  # noqa: S311 - no secret
    drafts = _write_show(style, rng, unannounced)
    automatic = style.automatic or rng.random() < 0.3
    spoken = speak([(at, line) for at, d in enumerate(drafts) for line in d.said], rng=rng)
    data = write_captions(spoken, rng=rng, automatic=automatic)
    starts: dict[int, float] = {}
    for word in spoken:
        starts.setdefault(word.part, word.start_s)
    end_s = spoken[-1].end_s
    parts = tuple(TruePart(starts[at], d.kind, d.slug) for at, d in enumerate(drafts))
    bounds = [*(part.start_s for part in parts[1:]), end_s]
    lengths = [end - part.start_s for part, end in zip(parts, bounds, strict=True)]
    sheet, places = _plan(drafts, lengths, rng)
    return Show(style.name, seed, data, parts, end_s, sheet, places)


def _write_show(style: Style, rng: random.Random, unannounced: float) -> list[_Draft]:
    """Return the parts of a show, in order."""
    _, stories = _content()
    drafts = []
    count = rng.randint(4, 9)
    faults = rng.sample(sorted(stories), count)
    things = rng.sample(THINGS, count)
    usual_words = rng.choice((220, 350, 500, 700))  # a show has its own pace
    if style.lines["greeting"]:
        drafts.append(_plain_part("intro", style, "greeting", rng, repeat=rng.randint(1, 3)))
    notice = rng.randint(0, count - 1) if style.lines["notice"] and rng.random() < 0.7 else -1
    for at, (fault, thing) in enumerate(zip(faults, things, strict=True)):
        words = max(110, int(usual_words * rng.lognormvariate(0.0, 0.4)))
        drafts.append(_case_part(style, fault, thing, things[:at], at + 1, words, rng))
        if rng.random() < unannounced:
            said = drafts[-1].said
            cut = 1 if len(said) > 3 else 0
            drafts[-1].said = said[cut : len(said) - cut]
        if at == notice and at < count - 1:
            drafts.append(_plain_part("notice", style, "notice", rng, repeat=1))
    if style.lines["farewell"]:
        drafts.append(_plain_part("outro", style, "farewell", rng, repeat=1))
    return drafts


def _plain_part(kind: Kind, style: Style, lines: str, rng: random.Random, *, repeat: int) -> _Draft:
    said = list(style.lines[lines])
    if rng.random() < 0.4 and len(said) > 2:
        said.pop(rng.randrange(len(said)))
    script = " ".join(said)
    for _ in range(repeat - 1):
        said.append(rng.choice(style.lines["digression"]))
    host = rng.randrange(style.hosts)
    draft = _Draft(kind, lines.capitalize(), script=script if rng.random() < 0.6 else "")
    draft.words = "" if draft.script else " ".join(script.split()[: rng.randint(3, 8)])
    for line in said:
        draft.said.append(Utterance(line, host, gap_s=rng.uniform(0.1, 0.7)))
        host = rng.randrange(style.hosts) if rng.random() < 0.4 else host
    draft.said[0] = Utterance(draft.said[0].text, draft.said[0].host, _turn_gap(rng))
    return draft


def _case_part(
    style: Style,
    fault: str,
    thing: str,
    earlier: list[str],
    count: int,
    words: int,
    rng: random.Random,
) -> _Draft:
    """Return a case: opened, told, talked about, closed."""
    knowledge, stories = _content()
    telling = list(rng.sample(stories[fault], min(len(stories[fault]), 12)))
    known = {
        "name": rng.choice(NAMES),
        "place": rng.choice(PLACES),
        "thing": thing,
        "machine": rng.choice(MACHINES),
        "material": rng.choice(MATERIALS),
        "fault": knowledge.faults[fault].name.lower(),
        "count": str(count),
    }
    lines = [rng.choice(style.lines["opener"])]
    if rng.random() < 0.6:
        lines.append(rng.choice(style.lines["letter"]))
    letter = telling.pop()
    # The desk knows the report, or only what others told of the same fault.
    report = letter if rng.random() < 0.75 else rng.choice(telling)
    lines += _sentences(letter)
    lines += _discussion(style, fault, telling, earlier, words, rng)
    if rng.random() < 0.75:
        lines += rng.sample(
            style.lines["closer"], rng.randint(1, min(2, len(style.lines["closer"])))
        )
    draft = _Draft("case", f"{thing.capitalize()}: {known['fault']}")
    host = rng.randrange(style.hosts)
    for at, line in enumerate(lines):
        filled = line.format(**known) if "{" in line else line
        gap_s = rng.uniform(0.05, 0.6) if at else _turn_gap(rng)
        draft.said.append(Utterance(filled, host, gap_s))
        host = rng.randrange(style.hosts) if rng.random() < 0.35 else host
    points = [knowledge.faults[fault].name, knowledge.faults[fault].sign]
    draft.words = " ".join((report, known["machine"], known["material"], known["name"], *points))
    draft.is_planned = rng.random() > 0.08
    return draft


def _turn_gap(rng: random.Random) -> float:
    """Return the pause in front of a part: often none to speak of."""
    return rng.choice((0.1, 0.3, 0.5, 0.8, 1.2, 2.0)) * rng.uniform(0.7, 1.3)


def _discussion(
    style: Style,
    fault: str,
    telling: list[str],
    earlier: list[str],
    words: int,
    rng: random.Random,
) -> list[str]:
    """Return what the hosts say of a case, about so many words."""
    knowledge, stories = _content()
    facts = _facts(knowledge, fault, rng)
    others = sorted(stories)
    lines: list[str] = []
    total = 0
    while total < words:
        roll = rng.random()
        if roll < 0.40:
            new = [rng.choice(style.lines["talk"])]
        elif roll < 0.60 and facts:
            new = [facts.pop()]
        elif roll < 0.72 and telling:
            new = _sentences(telling.pop())
        elif roll < 0.80:
            other = knowledge.faults[rng.choice(others)].name.lower()
            new = [rng.choice(ALTERNATIVES).replace("{fault}", other)]
        elif roll < 0.88:
            asked = rng.choice(sorted(knowledge.findings))
            new = [knowledge.findings[asked].question]
        elif roll < 0.94:
            new = [
                "Back to the {thing}, then.",
                "On this {thing}, I mean.",
                "It is a nice {thing}.",
            ]
            new = [rng.choice(new)]
        elif roll < 0.98 and style.lines["digression"]:
            at = rng.randrange(len(style.lines["digression"]))
            new = list(style.lines["digression"][at : at + rng.randint(1, 4)])
        elif earlier:
            new = [rng.choice(style.lines["callback"]).replace("{thing}", rng.choice(earlier))]
        else:
            continue
        lines += new
        total += sum(len(line.split()) for line in new)
    return lines


def _facts(knowledge: Knowledge, fault: str, rng: random.Random) -> list[str]:
    """Return what the knowledge says of a fault and its remedies, in sentences, shuffled."""
    entry = knowledge.faults[fault]
    texts = [entry.why, entry.sign]
    texts += [action.how for action in knowledge.actions.values() if fault in action.cures]
    found = [sentence for text in texts for sentence in _sentences(text)]
    rng.shuffle(found)
    return found


def _sentences(text: str) -> list[str]:
    clean = text.replace("{", "(").replace("}", ")")
    return [part.strip() for part in _SENTENCE.split(clean) if part.strip()]


def _plan(
    drafts: list[_Draft], lengths: list[float], rng: random.Random
) -> tuple[tuple[PlannedPart, ...], tuple[int | None, ...]]:
    """Return a run sheet that the show did not quite keep to, and where its parts stand in it."""
    sheet: list[PlannedPart] = []
    places: list[int | None] = []
    for draft, length_s in zip(drafts, lengths, strict=True):
        if rng.random() < 0.08:  # planned, and left out in the show
            sheet.append(_left_out(rng))
        if not draft.is_planned:
            places.append(None)
            continue
        places.append(len(sheet))
        planned_s = round(length_s * rng.lognormvariate(0.0, 0.35))
        sheet.append(
            PlannedPart(draft.kind, draft.slug, draft.script, draft.words, max(planned_s, 5))
        )
    return tuple(sheet), tuple(places)


def _left_out(rng: random.Random) -> PlannedPart:
    knowledge, stories = _content()
    fault = rng.choice(sorted(stories))
    name = knowledge.faults[fault].name
    report = rng.choice(stories[fault])
    return PlannedPart("case", f"Spare: {name}", words=f"{report} {name}", planned_s=180)
