"""The demo's recurring texts can be used as they are."""

import pytest

from helpdesk.accounts.models import User
from helpdesk.cases.models import Channel
from helpdesk.conversation.placeholders import Filling, fill, find_faults
from helpdesk.conversation.previews import BY_CHANNEL, preview, without_marks
from helpdesk.demo.data import read_texts
from tests.factories import make_case

TEXTS = read_texts()


def test_there_are_a_dozen_of_all_kinds() -> None:
    """Something to put into every box."""
    assert len(TEXTS) >= 12
    assert {text["kind"] for text in TEXTS} == {"question", "answer", "closing", "chat"}


@pytest.mark.parametrize("text", TEXTS, ids=lambda text: text["title"])
def test_text_is_sound_and_fits_its_channel(text: dict[str, str], reviewer: User) -> None:
    """Known placeholders, no mark-up, nothing left in braces, one message in a chat."""
    assert find_faults(text["body"]) == []
    assert without_marks(text["body"]) == text["body"]
    filled = fill(text["body"], Filling(make_case(), reviewer))
    assert "{" not in filled
    chat = next(each for each in preview(filled) if each.rule is BY_CHANNEL[Channel.CHAT])
    assert len(chat.texts) == 1


@pytest.mark.parametrize("word", ["oven", "alcohol", "nozzle and the block stay hot", "licensed"])
def test_steps_that_can_hurt_carry_their_caution(word: str) -> None:
    """A caution stands in the text itself, so that copying cannot lose it."""
    assert any(word in text["body"] for text in TEXTS)
