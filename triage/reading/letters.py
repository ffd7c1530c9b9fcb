"""Letters quoted in a letter: somebody else's words, which are kept apart from the person's."""

import re
from collections.abc import Iterator, Sequence
from typing import Final

QUOTED_NOTE: Final = "Lines quoted from an earlier letter were left out."
"""Note on a reading in which quoted lines were passed over."""

_MARKED_LINE: Final = re.compile(r"^[ \t]{0,20}>.*$", re.M)
_QUOTE_TAG: Final = re.compile(r"<(/?)blockquote\b[^<>]{0,300}>", re.I)

# "On 3 May 2026 at 10:14, Somebody wrote:", which mail programs may wrap over two lines.
_INTRODUCTION: Final = re.compile(
    r"^[ \t]{0,20}On (?=[^\n]{0,150}\d)[^\n]{3,200}(?:\n[^\n]{1,100})?\bwrote:[ \t\r]{0,20}$", re.M
)
_DIVIDER: Final = re.compile(
    r"^[ \t]{0,20}(?:-{3,20} ?(?:Original|Forwarded) [Mm]essage ?-{3,20}"
    r"|_{10,80}[ \t\r]{0,20}\n{1,2}From: [^\n]{1,200})[ \t\r]{0,20}$",
    re.M,
)
_LOOK_AHEAD: Final = 200


def blank_quoted(text: str) -> tuple[str, bool]:
    """Return the text with quoted letters blanked, of the same length, and whether any were.

    Lines that begin with ">" go, what stands in a block quotation of HTML, and the line that
    introduces them ("On … wrote:"). Behind an introduction or a divider without such lines
    everything goes, as there a mail program has put the earlier letter under the answer; but
    where no words stand above it, the words below are all there is and stay.
    """
    own = _blank_tagged(text) if "<" in text else text
    if ">" in own:
        own = _MARKED_LINE.sub(lambda line: _blank(line.group()), own)
    openings = [*_INTRODUCTION.finditer(own), *_DIVIDER.finditer(own)]
    pieces: list[str] = []
    done = 0
    for start, stop in _quoted_spans(text, own, sorted(opening.span() for opening in openings)):
        pieces += [own[done:start], _blank(own[start:stop])]
        done = stop
    kept = "".join((*pieces, own[done:]))
    return kept, kept != text


def _quoted_spans(
    text: str, own: str, openings: Sequence[tuple[int, int]]
) -> Iterator[tuple[int, int]]:
    """Yield what to blank; `own` is `text` without its marked lines."""
    has_words, at = False, 0
    for start, stop in openings:
        has_words = has_words or any(map(str.isalpha, own[at:start]))
        at = stop
        if text[stop : stop + _LOOK_AHEAD].lstrip().startswith(">"):
            yield start, stop
        elif has_words:
            yield start, len(text)
            return


def _blank_tagged(text: str) -> str:
    """Blank what stands in block quotations; one that is never closed is left as it is."""
    pieces: list[str] = []
    depth = opened = done = 0
    for tag in _QUOTE_TAG.finditer(text):
        if not tag[1]:
            opened = opened if depth else tag.start()
            depth += 1
        elif depth:
            depth -= 1
            if not depth:
                pieces += [text[done:opened], _blank(text[opened : tag.end()])]
                done = tag.end()
    return "".join((*pieces, text[done:]))


def _blank(part: str) -> str:
    """Return blanks of the same length that end a sentence."""
    return ".".ljust(len(part))
