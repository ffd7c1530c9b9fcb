"""An answer as a letter: dangers first, the text in its sections, other cautions, closing."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from helpdesk.answers.cautions import Caution

SEE = "What we see"
WHY = "Why it happens"
FIRST = "Do this first"
THEN = "Then"
CAREFUL = "What to be careful about"
HEADINGS = (SEE, WHY, FIRST, THEN)
DANGER_LEAD = "Before anything else: "
_BLANK_LINES = re.compile(r"\n[ \t]*(?:\n[ \t]*)+")


@dataclass(frozen=True)
class Paragraph:
    """One paragraph: its section ("" before the first), its heading if it opens one, its words."""

    section: str
    heading: str
    words: str

    @property
    def text(self) -> str:
        """Return the paragraph as it is sent."""
        return f"{self.heading}: {self.words}" if self.heading else self.words


@dataclass(frozen=True)
class Letter:
    """What is sent, in the order in which it is sent."""

    dangers: tuple[str, ...]
    paragraphs: tuple[Paragraph, ...]
    cautions: tuple[str, ...]
    closing: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """Return the whole letter as plain text, paragraphs apart by blank lines."""
        return "\n\n".join(
            [
                *(DANGER_LEAD + danger for danger in self.dangers),
                *(paragraph.text for paragraph in self.paragraphs),
                *self.careful,
                *self.closing,
            ]
        )

    @property
    def careful(self) -> tuple[str, ...]:
        """Return the paragraph of the other cautions, if there are any."""
        if not self.cautions:
            return ()
        return (f"{CAREFUL}:\n" + "\n".join(f"- {caution}" for caution in self.cautions),)


def normalise(text: str) -> str:
    """Return text with one kind of line end, no trailing blanks and single blank lines."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").replace("\x00", "").split("\n")
    return _BLANK_LINES.sub("\n\n", "\n".join(line.rstrip() for line in lines)).strip()


def split_body(body: str) -> tuple[Paragraph, ...]:
    """Return the paragraphs of a text with the section each belongs to."""
    paragraphs = []
    section = ""
    for part in filter(None, normalise(body).split("\n\n")):
        heading, colon, words = part.partition(":")
        if colon and heading.strip() in HEADINGS:
            section = heading.strip()
            paragraphs.append(Paragraph(section, section, words.strip()))
        else:
            paragraphs.append(Paragraph(section, "", part))
    return tuple(paragraphs)


def make_letter(body: str, cautions: Iterable[Caution], closing: str = "") -> Letter:
    """Return the letter a text and its cautions make; dangers stand at the top."""
    sent = [caution for caution in cautions if caution.sent_text]
    return Letter(
        dangers=tuple(normalise(c.sent_text) for c in sent if c.is_danger),
        paragraphs=split_body(body),
        cautions=tuple(normalise(c.sent_text) for c in sent if not c.is_danger),
        closing=tuple(filter(None, normalise(closing).split("\n\n"))),
    )
