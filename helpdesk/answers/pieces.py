"""An answer for a channel with short messages: shortened with sense, then cut into pieces."""

import re
from dataclasses import dataclass, replace

from helpdesk.answers.letters import SEE, THEN, WHY, Letter

FEW_PIECES = 3  # above this, what can be spared is left out [judgement: desk design, 2026-11]
SHORTEST_LIMIT = 80
LONGEST_LIMIT = 20_000
MARK_ROOM = len("(999/999) ")
_SENTENCE_GAP = re.compile(r"((?<=[.?])\s+|\n)")


@dataclass(frozen=True)
class Pieces:
    """Messages in the order to send them, and the sections left out to save room."""

    texts: tuple[str, ...]
    left_out: tuple[str, ...]


def cut_letter(letter: Letter, limit: int) -> Pieces:
    """Return a letter as messages of at most `limit` characters.

    Sections that can be spared are left out, the least needed first, until few pieces are enough.
    Cautions, the greeting and the first step are never left out: if they need more pieces, there
    are more.
    """
    left_out: list[str] = []
    pieces = _cut(letter, limit)
    for section in (SEE, THEN, WHY):
        if len(pieces) <= FEW_PIECES:
            break
        rest = tuple(p for p in letter.paragraphs if p.section != section)
        if len(rest) == len(letter.paragraphs):
            continue
        letter = replace(letter, paragraphs=rest)
        left_out.append(section)
        pieces = _cut(letter, limit)
    return Pieces(texts=pieces, left_out=tuple(left_out))


def _cut(letter: Letter, limit: int) -> tuple[str, ...]:
    """Cut at paragraphs where possible, else at sentences, else at words."""
    if len(letter.text) <= limit:
        return (letter.text,)
    room = limit - MARK_ROOM
    pieces = [""]
    for paragraph in letter.text.split("\n\n"):
        joined = f"{pieces[-1]}\n\n{paragraph}" if pieces[-1] else paragraph
        if len(joined) <= room:
            pieces[-1] = joined
            continue
        parts = _fill(paragraph, room)
        pieces.extend(parts)
    pieces = [piece for piece in pieces if piece]
    return tuple(f"({n}/{len(pieces)}) {piece}" for n, piece in enumerate(pieces, start=1))


def _fill(paragraph: str, room: int) -> list[str]:
    """Cut a paragraph into parts that fit: between sentences, else words, else anywhere."""
    parts = [""]
    # Every second item is the gap before a sentence; a gap with a line break stays one.
    items = ["", *_SENTENCE_GAP.split(paragraph)]
    for gap, sentence in zip(items[::2], items[1::2], strict=True):
        joint = "\n" if "\n" in gap else " "
        for word in [sentence] if len(sentence) <= room else sentence.split():
            for chunk in [word[i : i + room] for i in range(0, len(word), room)]:
                joined = f"{parts[-1]}{joint}{chunk}" if parts[-1] else chunk
                if len(joined) <= room:
                    parts[-1] = joined
                else:
                    parts.append(chunk)
                joint = " "
    return parts
