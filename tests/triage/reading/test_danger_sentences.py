"""How often a danger is recognised, and how often harmless talk raises one.

The reports are our own: danger_reports.txt says which dangers would do for each, and none of
harmless_reports.txt may raise any. Labels were written before the reader saw a text. The phrases
were mended with the parts called "first", then "last"; the parts called "fresh" were written after that and no
phrase was mended with them, so their figures are those of texts the phrases were not made for.
Run `python -m tests.triage.reading.test_danger_sentences` for the figures and every mistake.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from triage import load_knowledge
from triage.reading import Reader

FOLDER = Path(__file__).parent
PARTS = ("first", "last", "fresh")

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


if __name__ == "__main__":
    print("\n".join(report()))  # noqa: T201
