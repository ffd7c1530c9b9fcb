"""A small show with three cases whose words and times the tests know."""

from collections.abc import Sequence

CUE_S = 5.0
FILLER = (
    "One sees it best from this side.",
    "That happens on other machines as well.",
    "Let us turn it round once more.",
)
SAID = {
    0: "Good evening and welcome to the show.",
    1: "We have two failed prints tonight.",
    2: "Let us begin with the first one, a box.",
    4: "Nobody had cleaned the",
    5: "plate in weeks, so the corners lift.",
    8: "Wash it with soap and warm water.",
    14: "Now to our next print, a tall vase.",
    16: "There are fine strings and the filament pops.",
    20: "Dry the spool for six hours at sixty degrees.",
    27: "That was all for today, thank you for sending them in.",
    28: "Until next week, goodbye.",
}
CUES = 29


def stamp(second: float) -> str:
    """Return a time as WebVTT writes it."""
    return f"{int(second) // 60:02}:{second % 60:06.3f}"


def lines(
    *, shift_s: float = 0.0, changed: dict[int, str] | None = None
) -> list[tuple[float, str]]:
    """Return start and words of each cue."""
    said = SAID | (changed or {})
    return [(n * CUE_S + shift_s, said.get(n, FILLER[n % 3])) for n in range(CUES)]


def vtt(cues: Sequence[tuple[float, str]] | None = None) -> bytes:
    """Return the show as a WebVTT file."""
    blocks = ["WEBVTT\n"]
    for start_s, words in cues if cues is not None else lines():
        blocks.append(f"{stamp(start_s)} --> {stamp(start_s + CUE_S - 0.2)}\n{words}\n")
    return "\n".join(blocks).encode()
