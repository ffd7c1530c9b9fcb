"""The number of a show from the name of its file."""

import re

import pytest

from helpdesk.archive.errors import CaptionsRefusedError
from helpdesk.archive.naming import number_from_name


@pytest.mark.parametrize(
    ("name", "number"),
    [
        ("41.vtt", 41),
        ("salvage-hour-007.srt", 7),
        ("Episode 12 - Corners, part 2.vtt", 12),
        ("ep_0150.en.vtt", 150),
        ("show-9 2024-03-07.vtt", 9),
        ("2024-03-07 41.vtt", 41),
        ("20240307_No. 3.srt", 3),
    ],
)
def test_number_from_name_reads_common_names(name, number):
    assert number_from_name(name) == number


@pytest.mark.parametrize("name", ["captions.vtt", "3 of 12.vtt", "2024-03-07.vtt", "episode 0.vtt"])
def test_number_from_name_refuses_what_tells_none_or_several(name):
    with pytest.raises(CaptionsRefusedError, match="number"):
        number_from_name(name)


def test_number_from_name_takes_a_pattern():
    assert number_from_name("12-b7.vtt", re.compile(r"b(\d+)")) == 7
