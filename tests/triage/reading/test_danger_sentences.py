"""How often a danger is recognised, and how often harmless talk raises one.

The reports are our own: danger_reports.txt says which dangers would do for each, and none of
harmless_reports.txt may raise any. Labels were written before the reader saw a text. The parts were
written one after the other, each but "last" when the phrases had been mended with those before it.
At first sight the reader recognised 0.471 of the dangerous reports of "first" (191) and raised a
false alarm at 0.078 of the harmless ones (528); of "fresh" 0.713 (87) and 0.033 (153); of "unseen",
worded as far from the others as could be, 0.549 (71) and 0.035 (114). After mending with all these
"today", worded plainly, was read with 0.974 (39) and 0.000 (40), and nothing was mended after it.
Run `python -m tests.triage.reading.test_danger_sentences` for today's figures and every mistake.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from triage import load_knowledge
from triage.knowledge import KNOWLEDGE_FOLDER, load_stories
from triage.reading import Reader

FOLDER = Path(__file__).parent
FEWEST_DANGEROUS, FEWEST_HARMLESS = 400, 900
LEAST_RECOGNISED, MOST_FALSE_ALARMS = 0.97, 0.02
FEWEST_OF_EACH = 25  # reports of each danger
DANGEROUS_FAULTS = frozenset({"wiring-overheated", "heater-or-sensor-fault"})
MOST_STORY_ALARMS = 0.02  # of the stories of other faults; most of these do tell of a danger
PARTS = ("first", "last", "fresh", "unseen", "today")

KNOWLEDGE = load_knowledge()
READER = Reader(KNOWLEDGE)


@dataclass(frozen=True)
class Told:
    """A report and the dangers of which one must be raised; none for a harmless one."""

    part: str
    dangers: frozenset[str]
    text: str


@dataclass(frozen=True)
class Rates:
    """Shares of reports, between 0 and 1.

    Parameters
    ----------
    recognised : float
        Dangerous reports that raise one of their own dangers.
    warned : float
        Dangerous reports that raise any danger.
    false_alarms : float
        Harmless reports that raise a danger.
    """

    recognised: float
    warned: float
    false_alarms: float


def load_part_lines(name: str) -> Iterator[tuple[str, str]]:
    """Yield part and line of a file, without remarks."""
    part = ""
    for line in (FOLDER / name).read_text(encoding="utf-8").splitlines():
        if line.startswith("## part "):
            part = line.removeprefix("## part ")
        elif line and not line.startswith("#"):
            yield part, line


def load_dangerous() -> Iterator[Told]:
    """Yield the reports that tell of a danger."""
    for part, line in load_part_lines("danger_reports.txt"):
        label, _, text = line.partition(" | ")
        yield Told(part, frozenset(label.split(" / ")), text)


def load_harmless() -> Iterator[Told]:
    """Yield the reports that tell of none."""
    for part, text in load_part_lines("harmless_reports.txt"):
        yield Told(part, frozenset(), text)


def raised(text: str) -> frozenset[str]:
    """Return the dangers a text raises."""
    return frozenset(danger.id for danger in READER.read(text).dangers)


def rate(dangerous: Sequence[Told], harmless: Sequence[Told]) -> Rates:
    """Return the rates over reports of both kinds."""
    alarms = [(told, raised(told.text)) for told in dangerous]
    false = [told for told in harmless if raised(told.text)]
    return Rates(
        recognised=sum(bool(told.dangers & found) for told, found in alarms) / len(dangerous),
        warned=sum(bool(found) for _, found in alarms) / len(dangerous),
        false_alarms=len(false) / len(harmless),
    )


DANGEROUS = tuple(load_dangerous())
HARMLESS = tuple(load_harmless())


def of_part(reports: Sequence[Told], part: str) -> list[Told]:
    """Return the reports of one part."""
    return [told for told in reports if told.part == part]


def rate_stories() -> float:
    """Return the share of the invented stories of harmless faults that raise a danger."""
    stories = load_stories(KNOWLEDGE, KNOWLEDGE_FOLDER)
    texts = [story.text for story in stories if DANGEROUS_FAULTS.isdisjoint(story.faults)]
    return sum(bool(raised(text)) for text in texts) / len(texts)


def test_stories_of_harmless_faults_seldom_raise_a_danger() -> None:
    """At most two in a hundred raise one."""
    assert rate_stories() <= MOST_STORY_ALARMS


def test_dangers_are_recognised_and_harmless_talk_is_left_alone() -> None:
    """At least 97 % of the dangers are recognised, with at most 2 % of false alarms."""
    rates = rate(DANGEROUS, HARMLESS)

    assert rates.recognised >= LEAST_RECOGNISED
    assert rates.false_alarms <= MOST_FALSE_ALARMS


def test_danger_reports_are_many_and_cover_every_danger() -> None:
    """The sets are large, name no text twice, and tell of each danger in many ways."""
    told = [name for report in DANGEROUS for name in report.dangers]

    assert len({report.text for report in DANGEROUS}) == len(DANGEROUS) >= FEWEST_DANGEROUS
    assert len({report.text for report in HARMLESS}) == len(HARMLESS) >= FEWEST_HARMLESS
    assert set(told) == set(KNOWLEDGE.dangers)
    assert min(told.count(name) for name in KNOWLEDGE.dangers) >= FEWEST_OF_EACH
    assert {report.part for report in (*DANGEROUS, *HARMLESS)} == set(PARTS)


def report() -> Iterator[str]:
    """Yield every mistake, then the rates of each part."""
    for told in (*DANGEROUS, *HARMLESS):
        found = READER.read(told.text).dangers
        names = {danger.id for danger in found}
        if told.dangers and not told.dangers & names:
            yield f"missed {sorted(told.dangers)} ({told.part}): {told.text} | {sorted(names)}"
        elif not told.dangers and found:
            quotes = "; ".join(f"{danger.id} '{danger.quote}'" for danger in found)
            yield f"false alarm ({told.part}): {told.text} | {quotes}"
    for part in PARTS:
        dangerous, harmless = of_part(DANGEROUS, part), of_part(HARMLESS, part)
        rates = rate(dangerous, harmless)
        yield (
            f"{part}: of {len(dangerous)} dangerous reports {rates.recognised:.3f} recognised and"
            f" {rates.warned:.3f} warned of; of {len(harmless)} harmless ones"
            f" {rates.false_alarms:.3f} raised a false alarm"
        )
    yield f"stories of harmless faults: {rate_stories():.3f} raise a danger"


if __name__ == "__main__":
    print("\n".join(report()))  # noqa: T201
