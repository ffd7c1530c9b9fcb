"""The number of a show from the name of its file."""

import re

from helpdesk.archive.errors import CaptionsRefusedError

# "episode 41", "ep-041", "show_41", "no. 41"; else a number that stands alone in the name.
SAID = re.compile(r"(?:episode|ep|show|no|number)[\s._#-]*0*(\d{1,6})(?!\d)", re.IGNORECASE)
ALONE = re.compile(r"(?<!\d)0*(\d{1,6})(?!\d)")
DATE = re.compile(r"(?<!\d)\d{4}[-_.]?\d{2}[-_.]?\d{2}(?!\d)")
LARGEST_NUMBER = 999_999


def number_from_name(name: str, pattern: re.Pattern[str] | None = None) -> int:
    """Return the number of the show a file's name tells of.

    Parameters
    ----------
    name : str
        The file's name, without folders.
    pattern : Pattern or None
        Its first group is the number; without one, a number after "episode", "ep", "show" or
        "no", else the only number in the name that is not part of a date.

    Raises
    ------
    CaptionsRefusedError
        If the name tells no number, or several.
    """
    stem = name.rsplit(".", 1)[0]
    if pattern is not None:
        found = [match.group(1) for match in pattern.finditer(stem)]
    else:
        undated = DATE.sub(" ", stem)
        found = SAID.findall(undated) or ALONE.findall(undated)
    numbers = {int(digits) for digits in found if digits and digits.isdecimal()}
    if len(numbers) > 1:
        said = ", ".join(str(number) for number in sorted(numbers))
        raise CaptionsRefusedError(f"The name tells more than one number ({said}). Say which.")
    if not numbers or not 0 < min(numbers) <= LARGEST_NUMBER:
        raise CaptionsRefusedError("The name tells no number of an episode. Say which it is.")
    return numbers.pop()
