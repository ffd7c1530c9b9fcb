"""Titles in the segment's own words."""

from triage.captions import Cue
from triage.captions._titles import make_title
from triage.captions._words import list_stems, spread_words, stem

TRADE = frozenset(list_stems("hairs walls stringing shifted layers"))
SAID = (
    "This is a bowl. There are hairs between walls of the bowl. The bowl has hairs, fine hairs.",
    "Here is a toy train. The toy train has shifted layers. Layers shifted on the train twice.",
)


def title_of(at: int, kind: str = "case") -> str:
    words = spread_words([Cue(30.0 * at, 30.0 * at + 30.0, text) for at, text in enumerate(SAID)])
    first, end = int(words.first[at]), int(words.first[at + 1])
    return make_title(words, first, end, kind=kind, trade=TRADE)  # type: ignore[arg-type]


def test_titles_name_the_thing_and_what_is_wrong() -> None:
    assert title_of(0) == "Bowl: hairs"
    assert title_of(1).startswith(("Toy train: ", "Train: "))
    assert "layers" in title_of(1).lower()


def test_parts_that_are_no_case_have_plain_titles() -> None:
    assert title_of(0, "intro") == "Opening"
    assert title_of(0, "outro") == "Farewell"
    assert title_of(0, "notice").startswith("Notice: ")


def test_a_part_without_words_is_called_by_its_kind() -> None:
    words = spread_words([Cue(0.0, 5.0, "and so it was")])

    assert make_title(words, 0, 4, kind="case", trade=TRADE) == "Case"
    assert make_title(words, 4, 4, kind="notice", trade=TRADE) == "Notice"


def test_stems_join_a_word_and_its_kin() -> None:
    assert stem("printing") == stem("prints") == stem("printed")
    assert stem("the") == stem("pc") == ""
