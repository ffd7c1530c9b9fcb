"""Lines of a WebVTT or SubRip file to cues with their line numbers, leniently.

One pass over the lines: a line with two times opens a cue, an empty line closes its words. What
the standard would drop without a word is either kept with a note or listed as a problem.
"""

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from triage.captions._tags import has_word_times, strip_tags
from triage.captions._times import read_loose_time, read_timestamp
from triage.errors import CaptionError

_ARROW = re.compile(r"\s*(?:-{1,3}\s?>|[\u2013\u2014\u2192]>?)\s*")
_HEADER = re.compile(r"WEBVTT(?:[ \t].*)?")
_COMMENT = re.compile(r"(?:NOTE|STYLE|REGION)(?:[ \t:].*)?")
_SUBRIP_TIME = re.compile(r"[0-9]{2,}:[0-5][0-9]:[0-5][0-9],[0-9]{3}")
_Block = list[tuple[int, str]]  # lines with their numbers
_QUOTED = 60  # characters of words that a problem repeats


@dataclass(slots=True)
class RawCue:
    """A cue as it stands in the file: its line (from 1), times, words without tags."""

    line: int
    start_s: float
    end_s: float
    text: str = ""
    speaker: str = ""
    has_word_times: bool = False


@dataclass(slots=True)
class Findings:
    """Notes counted by what they say, each with its first line; problems one by one."""

    problems: list[tuple[int, str]] = field(default_factory=list)
    _first: dict[str, int] = field(default_factory=dict)
    _count: Counter[str] = field(default_factory=Counter)

    def note(self, line: int, text: str) -> None:
        """Count a note."""
        self._first.setdefault(text, line)
        self._count[text] += 1

    def refuse(self, line: int, why: str, words: Iterable[str] = ()) -> None:
        """Add a problem, with the words that are lost by it."""
        said = " ".join(words)
        quote = said if len(said) <= _QUOTED else f"{said[:_QUOTED].rstrip()}\u2026"
        lost = f": \u201c{quote}\u201d" if quote else ""
        self.problems.append((line, f"{why}{lost}"))

    def list_notes(self) -> tuple[str, ...]:
        """Return one sentence for each kind of note."""
        return tuple(
            f"Line {line}{_more(self._count[text] - 1)}: {text}"
            for text, line in sorted(self._first.items(), key=lambda item: item[1])
        )

    def list_problems(self) -> tuple[str, ...]:
        """Return one sentence for each problem, in the order of the lines."""
        return tuple(f"Line {line}: {text}." for line, text in sorted(self.problems))


def is_webvtt(text: str) -> bool:
    """Return whether a text starts as WebVTT does, after empty lines or spaces at most."""
    first = text.lstrip(" \t\n\ufeff").partition("\n")[0]
    return _HEADER.fullmatch(first) is not None


def read_blocks(text: str, findings: Findings) -> list[RawCue]:
    """Return the cues of a file in its order, those without words left out."""
    parser = _Parser(is_subrip=not is_webvtt(text), findings=findings)
    for number, line in enumerate(text.lstrip("\ufeff").split("\n"), start=1):
        parser.take(number, line)
    parser.finish()
    return parser.cues


def _more(count: int) -> str:
    return f" and {count} more" if count else ""


class _Parser:
    """Where the reading of a file stands."""

    def __init__(self, *, is_subrip: bool, findings: Findings) -> None:
        self.cues: list[RawCue] = []
        self._is_subrip = is_subrip
        self._findings = findings
        self._block: _Block = []  # lines since the last empty one or timing
        self._open: RawCue | None = None  # whose words the block is
        self._broken: tuple[int, str] | None = None  # a timing that cannot be used, and why
        self._is_header = not is_subrip

    def take(self, number: int, line: str) -> None:
        """Read the next line."""
        is_empty = not line
        line = line.strip()
        if not line:
            # In WebVTT a line of spaces belongs to the words; rolling captions begin with one.
            is_inside = self._open is not None and not self._is_subrip and not is_empty
            if not is_inside and (not self._is_header or self._block):
                self._close()
            return
        if ">" in line or "\u2192" in line:
            times = self._read_times(number, line)
            if times is not None:
                self._start(number, *times)
                return
            if "-->" in line and self._may_be_timing(line):
                self._start_broken(number, f"the times in '{line[:_QUOTED]}' cannot be read")
                return
        self._block.append((number, line))

    def finish(self) -> None:
        """Close what is open at the end of the file."""
        self._close()

    def _may_be_timing(self, line: str) -> bool:
        """Whether a line with an arrow is a broken timing, and no words with an arrow in them."""
        begins = self._open is None and self._broken is None and len(self._block) < 2
        return begins or bool(re.match(r"[-+0-9:.,\s]*-->", line))

    def _read_times(self, number: int, line: str) -> tuple[float, float] | None:
        arrow = _ARROW.search(line, 1)
        if arrow is None or not arrow.group().strip():
            return None
        left, right = line[: arrow.start()], line[arrow.end() :]
        token = right.split(maxsplit=1)[0] if right else ""
        start = read_loose_time(left)
        end = read_loose_time(token)
        if end is None:
            end, token = read_loose_time(right), right
        if start is None or end is None:
            return None
        if not (self._is_exact(left) and self._is_exact(token) and "-->" in arrow.group()):
            self._findings.note(
                number, "the times are not written as the standard asks; they were read anyway."
            )
        return start, end

    def _is_exact(self, text: str) -> bool:
        if self._is_subrip:
            return _SUBRIP_TIME.fullmatch(text) is not None
        try:
            read_timestamp(text)
        except CaptionError:
            return False
        return True

    def _start(self, number: int, start_s: float, end_s: float) -> None:
        self._close(is_before_timing=True)
        if start_s < 0.0:
            if end_s <= 0.0:
                self._start_broken(number, "the cue ends before the recording starts")
                return
            self._findings.note(number, "a cue starts before 0; it was made to start at 0.")
            start_s = 0.0
        self._open = RawCue(number, start_s, end_s)

    def _start_broken(self, number: int, why: str) -> None:
        self._close(is_before_timing=True)
        self._broken = (number, f"{why}, so the cue was left out")

    def _close(self, *, is_before_timing: bool = False) -> None:
        """Give the block to what it belongs to."""
        block, self._block = self._block, []
        is_header, self._is_header = self._is_header, False
        belongs = self._open is not None or self._broken is not None
        if is_before_timing and block and not is_header:
            block = self._take_name(block, belongs=belongs)
        if self._broken is not None:
            self._findings.refuse(*self._broken, (text for _, text in block))
            self._broken, self._open = None, None
        elif self._open is not None:
            self._close_cue(self._open, [text for _, text in block])
            self._open = None
        elif block and not is_header:
            self._close_stray(block)

    def _take_name(self, block: _Block, *, belongs: bool) -> _Block:
        """Return a block without its last line where that names the cue that begins."""
        line, last = block[-1]
        if self._is_number(last):
            if belongs:
                self._findings.note(
                    self._line_of(block[:-1]), "an empty line between two cues is missing."
                )
            return block[:-1]
        if self._is_subrip or belongs:
            return block
        self._findings.note(line, "the name of a cue is no speech.")
        return block[:-1]

    def _line_of(self, block: _Block) -> int:
        if block:
            return block[-1][0]
        return self._open.line if self._open else self._broken[0] if self._broken else 1

    def _close_cue(self, cue: RawCue, lines: list[str]) -> None:
        text = "\n".join(lines)
        cue.has_word_times = has_word_times(text)
        cue.text, cue.speaker = strip_tags(text, is_subrip=self._is_subrip)
        if cue.text:
            self.cues.append(cue)
        else:
            self._findings.note(cue.line, "a cue holds no words; it was left out.")

    def _close_stray(self, block: _Block) -> None:
        """Deal with lines that stand between empty ones without a time."""
        line, first = block[0]
        if not self._is_subrip and _COMMENT.fullmatch(first):
            self._findings.note(line, "a comment or a block of style is no speech.")
            return
        texts = [text for _, text in block]
        if len(block) == 1 and self._is_number(first):
            self._findings.note(line, "a number stands alone, without time or words.")
            return
        if self.cues:
            words, _ = strip_tags("\n".join(texts), is_subrip=self._is_subrip)
            self.cues[-1].text = f"{self.cues[-1].text}\n{words}".strip()
            self._findings.note(
                line, "words without a time of their own were added to the cue before them."
            )
        else:
            self._findings.refuse(line, "these words have no time and were left out", texts)

    @staticmethod
    def _is_number(text: str) -> bool:
        return text.isascii() and text.isdigit()
