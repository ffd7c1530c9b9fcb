"""Links in one form, marks of copied words, and how alike two texts are."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from helpdesk.duplicates.texts import (
    SHORTEST,
    Likeness,
    compare_texts,
    find_links,
    mark_text,
    number_of,
    plain_link,
    weigh_texts,
)

WORDS = st.lists(st.sampled_from(["the", "rook", "tower", "leans", "at", "layer"]), max_size=15)


@pytest.mark.parametrize(
    ("link", "plain"),
    [
        ("https://www.club.example/p/7/?utm_source=x#c3", "club.example/p/7"),
        ("http://M.Club.Example:80/p//7", "club.example/p/7"),
        ("https://club.example/p?b=2&a=1&fbclid=zz", "club.example/p?a=1&b=2"),
        ("https://club.example:8443/p/7", "club.example:8443/p/7"),
        ("https://club.example/", ""),
        ("ftp://club.example/p/7", ""),
        ("https://[broken/p", ""),
        ("https://club.example:port/p", ""),
        ("", ""),
    ],
)
def test_plain_link_is_one_form_of_a_page(link, plain):
    """Case of scheme and host and the default port say nothing (RFC 3986, section 6.2)."""
    assert plain_link(link) == plain


def test_find_links_leaves_the_sentence_behind():
    text = "It is at https://club.example/p/7. Or (https://other.example/x), they say."
    assert find_links(text) == {"club.example/p/7", "other.example/x"}


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(WORDS, WORDS, WORDS)
def test_a_copied_passage_shares_a_mark(before, passage, after):
    """Seven words in a row are always found, the guarantee of winnowing (k = 4, w = 4)."""
    own = [f"w{number}" for number in range(SHORTEST)]
    one = " ".join([*before, *own, *passage])
    other = " ".join([*after, *own])
    assert set(mark_text(one)) & set(mark_text(other))


def test_marks_are_the_same_in_every_process():
    """The sums are stored: BLAKE2b (RFC 7693) of eight bytes, without the lowest bit."""
    assert number_of("one two three four") == 918_098_062_006_259_049


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(WORDS, WORDS)
def test_compare_texts_is_symmetric_and_bounded(one, other):
    a, b = " ".join(one), " ".join(other)
    rarity = weigh_texts([a, b, "the layer"])
    found = compare_texts(a, b, rarity)
    assert found.contained == compare_texts(b, a, rarity).contained
    assert found.cosine == pytest.approx(compare_texts(b, a, rarity).cosine)
    assert 0 <= found.contained <= 1
    assert 0 <= found.cosine <= 1


def test_compare_texts_finds_a_quoted_text_whole():
    story = "my lens hood let go of the plate at layer ninety and went on in the air alone"
    found = compare_texts(story, f"Hello! > {story.upper()} Can you help?", {})
    assert found.contained == 1.0


def test_compare_texts_says_nothing_of_very_short_texts():
    phrase = "This one is not mine, but a friend of mine would like to know."
    assert compare_texts(phrase, phrase, {}) == Likeness(0.0, 0.0)
