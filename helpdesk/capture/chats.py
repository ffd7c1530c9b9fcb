"""Tell who said what in words copied out of a chat.

What is found is a proposal for a reviewer to take or leave; a text that does not clearly hold
several messages is no chat copy. The layouts are those that people's copies commonly have (common
practice, no source): a stamp in brackets and a name before the words, a stamp and a name parted by
a dash, a name and a stamp on a line of their own, and a name with a colon.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

NAME_CHARS = 40
LEAST_MESSAGES = 2
_TIME = r"\d{1,2}[:.]\d{2}(?:[:.]\d{2})?(?:\s?[ap]\.?m\.?)?"
_MONTH = r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?"
_DATE = (
    r"(?:\d{1,4}[./-]\d{1,2}[./-]\d{1,4}|\d{1,2}\.?\s" + _MONTH + r"(?:\s\d{4})?"
    r"|" + _MONTH + r"\s\d{1,2}(?:,?\s\d{4})?|today|yesterday)"
)
_STAMP = rf"(?:{_DATE}(?:,?\s+|\sat\s|T)?(?:at\s)?(?:{_TIME})?|{_TIME})"
_NAME = rf"[^\s:<>\[\]][^:<>\[\]\n]{{0,{NAME_CHARS - 1}}}"


def _layout(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern, re.IGNORECASE)


# The last group of each may be empty: then the words stand on the lines below.
_BRACKETED = _layout(
    rf"\[(?P<stamp>{_STAMP})\]\s*(?:<(?P<quoted>{_NAME})>|(?P<name>{_NAME}):)\s*(?P<words>.*)"
)
_DASHED = _layout(rf"(?P<stamp>{_STAMP})\s+[-–—]\s+(?P<name>{_NAME}):\s*(?P<words>.*)")
_HEADED = _layout(
    rf"(?P<name>{_NAME}?)(?:\s+[-–—•·|]\s+|\s{{2,}}|\s+(?=today|yesterday)|\s*\t\s*)"
    rf"[\[(]?(?P<stamp>{_STAMP})[\])]?(?P<words>)"
)
_NAMED = _layout(rf"(?P<name>@?[^\s:<>\[\]/]{{1,{NAME_CHARS}}}):\s+(?P<words>\S.*)(?P<stamp>)")


@dataclass(frozen=True)
class ChatMessage:
    """One message: who, when in the copy's own words ("" when it says nothing), and what."""

    author: str
    stamp: str
    words: str


@dataclass(frozen=True)
class Speaker:
    """One author of a chat copy with all their words, in order."""

    name: str
    messages: int
    words: str


def read_chat(text: str) -> Sequence[ChatMessage]:
    """Return the messages of a chat copy, or none when the text does not clearly hold several."""
    lines = text.replace("\r\n", "\n").strip().split("\n")
    for layout in (_BRACKETED, _DASHED, _HEADED, _NAMED):
        messages = _read_lines(lines, layout)
        if len(messages) >= LEAST_MESSAGES and (layout is not _NAMED or _is_talk(messages)):
            return messages
    return ()


def list_speakers(messages: Sequence[ChatMessage]) -> list[Speaker]:
    """Return the authors in the order they first spoke."""
    said: dict[str, list[str]] = {}
    for message in messages:
        said.setdefault(message.author, []).append(message.words)
    return [
        Speaker(name=name, messages=len(words), words="\n".join(filter(None, words)))
        for name, words in said.items()
    ]


def _read_lines(lines: Sequence[str], layout: re.Pattern[str]) -> list[ChatMessage]:
    """Return the messages one layout finds; none unless the very first line begins a message."""
    found: list[tuple[str, str, list[str]]] = []
    for line in lines:
        match = layout.fullmatch(line.strip())
        if match:
            parts = match.groupdict()
            name = (parts["name"] or parts.get("quoted") or "").strip()
            found.append((name, parts["stamp"] or "", [parts["words"]]))
        elif found:
            found[-1][2].append(line)
        else:
            return []
    return [ChatMessage(name, stamp, "\n".join(words).strip()) for name, stamp, words in found]


def _is_talk(messages: Sequence[ChatMessage]) -> bool:
    """Return True when somebody speaks again after another; a list of facts names each once."""
    turns = [
        message.author
        for place, message in enumerate(messages)
        if not place or messages[place - 1].author != message.author
    ]
    return len(turns) > len(set(turns)) > 1
