"""Columns are proposed by header words, then by values."""

from helpdesk.capture.columns import LEAVE_OUT, TARGETS, propose_columns


def test_header_words_are_known() -> None:
    header = ("Date", "Printer name", "Description", "E-Mail", "Did it help?", "Root cause", "Mood")

    assert propose_columns(header, [("",) * 7]) == (
        "opened_at",
        "machine",
        "story",
        "email",
        "outcome",
        "fault",
        LEAVE_OUT,
    )


def test_every_target_is_known_by_its_own_name() -> None:
    assert propose_columns(tuple(TARGETS), []) == tuple(TARGETS)


def test_values_tell_what_headers_do_not() -> None:
    sample = [
        (
            "kiln@tarnstreet.example",
            "https://posts.example/1",
            "25/11/2026",
            "The corners lift.",
            "3",
        ),
        ("ansa@tarnstreet.example", "https://posts.example/2", "26/11/2026", "A seam shows.", "4"),
    ]

    assert propose_columns(("A", "B", "C", "D", "E"), sample) == (
        "email",
        "link",
        "opened_at",
        "story",
        LEAVE_OUT,
    )


def test_no_target_is_given_twice() -> None:
    columns = propose_columns(("Story", "Description", "Text"), [("a", "b", "c")])

    assert columns == ("story", LEAVE_OUT, LEAVE_OUT)
