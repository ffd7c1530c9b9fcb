"""Utterances to spoken words with times, to what a speech recogniser makes of them, to a file."""

import random
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

WORD = re.compile(r"\S+")
_LETTERS = re.compile(r"[^a-z']")
ALIKE = (
    "their there|nozzle nostril|layer lair|bed bad|brim grim|extruder intruder|print sprint|"
    "filament fillmore|warp wharf|stringing swinging|infill infield|seam seem|plate played|"
    "dry try|heat eat|too to|for four|one won|here hear|wait weight|right write|petg pet g|"
    "pla p l a|belt build|tension attention|screw crew|support sport|slicer spicer|"
    "temperature temper|resin raisin|cure queue|fan van|cold called|next necks|moving moaning|"
    "case cave|from form|sent scent|photo photon|gap cap|bridge ridge|wall wool|axis access"
)
SOUNDS_LIKE = {
    word: other
    for pair in ALIKE.split("|")
    for one, _, two in [pair.partition(" ")]
    for word, other in ((one, two), *([] if " " in two else [(two, one)]))
}


@dataclass(frozen=True)
class Utterance:
    """What a host says in one go, after a pause."""

    text: str
    host: int
    gap_s: float


@dataclass(frozen=True)
class Spoken:
    """A word with its time and the part of the show it belongs to."""

    text: str
    start_s: float
    end_s: float
    part: int
    host: int


def speak(lines: Iterable[tuple[int, Utterance]], *, rng: random.Random) -> list[Spoken]:
    """Return the words of a show with their times, at the hosts' own rates."""
    rates = [rng.uniform(135, 190) for _ in range(2)]
    clock = rng.uniform(0.0, 4.0)
    found = []
    for part, line in lines:
        clock += line.gap_s
        for word in WORD.findall(line.text):
            length_s = 60.0 / rates[line.host] * (0.45 + 0.55 * len(word) / 4.6)
            found.append(Spoken(word, clock, clock + length_s, part, line.host))
            clock += length_s
            if word.endswith((".", "?", "!")):
                clock += rng.uniform(0.05, 0.35)
    return found


def write_captions(words: Sequence[Spoken], *, rng: random.Random, automatic: bool) -> bytes:
    """Return a caption file: recognised with errors, or typed by somebody."""
    if automatic:
        words = recognise(words, rng=rng, error_share=rng.uniform(0.05, 0.10))
        if rng.random() < 0.5:
            return _write_rolling(words, rng).encode()
        cues = cut_cues(words, rng=rng, at_sentences=False)
        return _write_webvtt(cues).encode()
    cues = cut_cues(words, rng=rng, at_sentences=True)
    is_subrip = rng.random() < 0.4
    return (_write_subrip(cues) if is_subrip else _write_webvtt(cues)).encode()


def recognise(words: Sequence[Spoken], *, rng: random.Random, error_share: float) -> list[Spoken]:
    """Return words in small letters without stops, some of them misheard or lost."""
    plain = [replace(word, text=_LETTERS.sub("", word.text.lower())) for word in words]
    heard = []
    for word in plain:
        if not word.text:
            continue
        if rng.random() >= error_share:
            heard.append(word)
            continue
        roll = rng.random()
        if word.text in SOUNDS_LIKE:
            heard.append(replace(word, text=SOUNDS_LIKE[word.text]))
        elif roll < 0.6:
            heard.append(replace(word, text=rng.choice(plain).text or word.text))
        elif roll < 0.8:
            heard.append(replace(word, text=_blur(word.text, rng)))
    return heard or plain


def _blur(word: str, rng: random.Random) -> str:
    at = rng.randrange(len(word))
    return word[:at] + rng.choice("aeioulrst") + word[at + 1 :]


def cut_cues(
    words: Sequence[Spoken], *, rng: random.Random, at_sentences: bool
) -> list[list[Spoken]]:
    """Return the words in cues of 1 to 6 seconds, ended at full stops where people type them."""
    usual_s = rng.uniform(1.8, 4.5)
    cues: list[list[Spoken]] = []
    limit_s = usual_s
    for word in words:
        current = cues[-1] if cues else []
        is_full = current and word.end_s - current[0].start_s > limit_s
        has_ended = current and at_sentences and current[-1].text.endswith((".", "?", "!"))
        is_short = current and current[-1].end_s - current[0].start_s < 1.0
        if not current or is_full or (has_ended and not is_short):
            cues.append([])
            limit_s = min(6.0, max(1.0, usual_s * rng.uniform(0.6, 1.4)))
        cues[-1].append(word)
    return cues


def _stamp(time_s: float, point: str) -> str:
    total_ms = round(time_s * 1000)
    hours, rest = divmod(total_ms, 3_600_000)
    minutes, rest = divmod(rest, 60_000)
    return f"{hours:02d}:{minutes:02d}:{rest // 1000:02d}{point}{rest % 1000:03d}"


def _text(cue: Sequence[Spoken]) -> str:
    return " ".join(word.text for word in cue)


def _write_webvtt(cues: Sequence[Sequence[Spoken]]) -> str:
    blocks = [
        f"{_stamp(cue[0].start_s, '.')} --> {_stamp(cue[-1].end_s, '.')}\n{_text(cue)}\n"
        for cue in cues
    ]
    return "WEBVTT\n\n" + "\n".join(blocks)


def _write_subrip(cues: Sequence[Sequence[Spoken]]) -> str:
    return "\n".join(
        f"{number}\n{_stamp(cue[0].start_s, ',')} --> {_stamp(cue[-1].end_s, ',')}\n{_text(cue)}\n"
        for number, cue in enumerate(cues, start=1)
    )


def _write_rolling(words: Sequence[Spoken], rng: random.Random) -> str:
    """Return WebVTT in which each cue repeats the line above and gives words their times."""
    cues = cut_cues(words, rng=rng, at_sentences=False)
    blocks = ["WEBVTT\nKind: captions\nLanguage: en\n"]
    above = " "
    for cue in cues:
        start, end = cue[0].start_s, cue[-1].end_s
        timed = cue[0].text + "".join(
            f"<{_stamp(word.start_s, '.')}><c> {word.text}</c>" for word in cue[1:]
        )
        blocks.append(
            f"{_stamp(start, '.')} --> {_stamp(end, '.')} align:start position:0%\n"
            f"{above}\n{timed}\n"
        )
        above = _text(cue)
        blocks.append(f"{_stamp(end, '.')} --> {_stamp(end + 0.01, '.')} align:start\n{above}\n \n")
    return "\n".join(blocks)
