"""Strict JSON, after RFC 8259 (the format) and RFC 7493 (I-JSON: no name twice, no halves)."""

import json
import time
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from helpdesk.incoming.strict_json import UnreadableJsonError, read_json

# No lone surrogates: hypothesis makes none by itself in st.text().
VALUES: Any = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


@given(VALUES, st.booleans())
def test_whatever_is_written_is_read_back(value: Any, is_ascii: bool) -> None:
    assert read_json(json.dumps(value, ensure_ascii=is_ascii).encode()) == value


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"", "not JSON"),
        (b"{", "line 1, column 2"),
        (b'{"a": 1,}', "not JSON"),
        (b"[1] [2]", "not JSON"),
        (b"{'a': 1}", "not JSON"),
        (b'{"a": 1, "a": 2}', "stands twice"),
        (b'[{"a": {"b": 1, "b": 1}}]', "stands twice"),
        (b"[NaN]", "NaN is not JSON"),
        (b"-Infinity", "Infinity is not JSON"),
        (b'{"a": "\\ud800"}', "unpaired surrogate"),
        (b'"\xff"', "Byte 2 is not UTF-8"),
        (b'"\xed\xa0\x80"', "not UTF-8"),
        ("{}".encode("utf-16"), "not UTF-8"),
        (b"[" * 25 + b"]" * 25, "deeper than 24"),
        (b" " + b"[" * 100_000, "deeper than 24"),
        (b'{"a":' * 100_000, "deeper than 24"),
        (b"1" * 5000, "too many digits"),
    ],
    ids=lambda value: str(value)[:24],
)
def test_what_could_be_read_in_two_ways_is_refused(text: bytes, words: str) -> None:
    with pytest.raises(UnreadableJsonError, match=words):
        read_json(text)


def test_brackets_in_texts_are_no_nesting() -> None:
    assert read_json('["' + "[" * 100 + '\\""]') == ["[" * 100 + '"']


def test_hostile_megabyte_is_judged_at_once() -> None:
    begun = time.perf_counter()
    for text in ('"' * 1_000_000, "\\" * 1_000_000, '"\\' * 500_000, "[]" * 500_000):
        with pytest.raises(UnreadableJsonError):
            read_json(text)

    assert time.perf_counter() - begun < 5
