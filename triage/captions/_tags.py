"""The words of a cue without its tags, escapes and marks of speakers."""

import html
import re

# A tag opens with a letter, a slash or the digits of a time, so "walls < 1 mm" stays.
_TAG = re.compile(r"</?([a-zA-Z]+)((?:[.\s][^<>\n]*)?)>|<(/?|[0-9][0-9:.]*|[0-9:.]+)>")
_BRACES = re.compile(r"\{\\?[a-zA-Z]+[0-9]*[^{}\n]*\}")
_TIME = re.compile(r"<[0-9:.]{5,}>")
_SPACES = re.compile(r"[ \t\u00a0\u200e\u200f]+")
_VOICE_TAG = "v"


def strip_tags(text: str, *, is_subrip: bool) -> tuple[str, str]:
    """Return the plain words of a cue, and the speaker of its first voice tag or nothing.

    A ruby text stands behind its base in brackets. In SubRip, curly braces of a layout are taken
    off too.

    Notes
    -----
    Source: [webvtt], "WebVTT cue text parsing rules".
    """
    speaker = ""

    def replace(found: re.Match[str]) -> str:
        nonlocal speaker
        name, rest = (found[1] or "").lower(), found[2] or ""
        if name == _VOICE_TAG and not speaker and rest:
            speaker = _SPACES.sub(" ", html.unescape(rest.partition(" ")[2])).strip()
        if name == "rt":
            return ")" if found[0].startswith("</") else " ("
        return "\n" if name == "br" else ""

    if "<" in text:
        text = _TAG.sub(replace, text)
    if is_subrip and "{" in text:
        text = _BRACES.sub("", text)
    if "&" in text:
        text = html.unescape(text)
    lines = (_SPACES.sub(" ", line).strip() for line in text.split("\n"))
    return "\n".join(line for line in lines if line), speaker


def has_word_times(text: str) -> bool:
    """Return whether times stand inside the words, as speech recognition writes them."""
    return "<" in text and _TIME.search(text) is not None
