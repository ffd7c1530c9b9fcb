"""Bytes of a caption file to cues."""

from collections.abc import Sequence
from itertools import pairwise

from triage.captions._blocks import Findings, RawCue, is_webvtt, read_blocks
from triage.captions._bytes import decode_captions
from triage.captions._languages import is_mixed_language
from triage.captions._model import Captions, Cue
from triage.captions._rolling import join_rolling, looks_automatic
from triage.errors import CaptionError

LONGEST_MENDED_S = 5.0  # of a cue whose end is wrong [judgement: desk, 2026-11]
SPOKEN_WORD_S = 0.35  # about 170 words a minute


def read_captions(data: bytes) -> Captions:
    """Return the cues of a WebVTT or SubRip file, whatever state it is in.

    Which of the two it is, is told by the content. Cues are put in the order of their starts,
    rolling lines of speech recognition are said once, tags and escapes are resolved. Cues may
    overlap. Whatever could not be used is a problem with its line; whatever was mended is a note.
    Time and memory grow linearly with the file.

    Parameters
    ----------
    data : bytes
        UTF-8, UTF-16 or UTF-32 with or without a mark, or Latin-1.

    Raises
    ------
    CaptionError
        If the file is empty, no text, or holds no cue with words.

    Notes
    -----
    Source: [webvtt]; SubRip has no standard, so what its files usually hold is read.
    """
    text, encoding, notes = decode_captions(data)
    findings = Findings()
    cues = _mend_times(read_blocks(text, findings), findings)
    problems = findings.list_problems()
    if not cues:
        why = f" ({problems[0]})" if problems else ""
        msg = f"the file holds no cue with a time and words{why}"
        raise CaptionError(msg)
    is_automatic = looks_automatic(cues)
    cues, rolling = join_rolling(cues)
    if rolling:
        notes += (f"{rolling} cues repeat words of the cue before; these were taken once.",)
    return Captions(
        cues=tuple(Cue(cue.start_s, cue.end_s, cue.text, cue.speaker) for cue in cues),
        notes=notes + findings.list_notes(),
        problems=problems,
        file_format="webvtt" if is_webvtt(text) else "subrip",
        encoding=encoding,
        is_automatic=is_automatic or rolling > 0,
        is_mixed=is_mixed_language(cue.text for cue in cues),
    )


def _mend_times(cues: Sequence[RawCue], findings: Findings) -> list[RawCue]:
    """Return the cues in the order of their starts, each ending after its start."""
    for before, cue in pairwise(cues):
        if cue.start_s < before.start_s:
            findings.note(cue.line, "a cue starts before the one above it; they were put in order.")
    ordered = sorted(cues, key=lambda cue: cue.start_s)
    for at, cue in enumerate(ordered):
        if cue.end_s > cue.start_s:
            continue
        findings.note(cue.line, "a cue does not end after its start; its end was guessed.")
        guess_s = min(LONGEST_MENDED_S, max(1.0, SPOKEN_WORD_S * len(cue.text.split())))
        following = ordered[at + 1].start_s if at + 1 < len(ordered) else cue.start_s + guess_s
        gap_s = following - cue.start_s
        cue.end_s = cue.start_s + (min(guess_s, gap_s) if gap_s > 0.0 else guess_s)
    return ordered
