"""Names as they are compared: case, accents and the signs between words make no difference."""

import re
import unicodedata
from collections.abc import Iterable

NAME_CHARS = 80
LEAST_CHARS = 3  # a shorter name stands in too many words to be looked for
# Names a report gives when somebody does not know: they name nobody.
_NOBODY = frozenset(
    {"unknown", "not known", "not sure", "no idea", "dont know", "don t know", "none", "no name"}
    | {"noname", "generic", "other", "various", "mixed", "cheap", "some", "any", "na", "n a"}
    | {"nothing", "forgot", "own", "own brand", "unbranded", "same", "the same"}
)
_SIGNS = re.compile(r"[^\w]+|_+")
# Letters that do not come apart into a letter and a mark (Unicode has no decomposition for them).
_LETTERS = str.maketrans({"ø": "o", "đ": "d", "ł": "l", "ħ": "h", "æ": "ae", "œ": "oe"})


def fold(text: str) -> str:
    """Return a text as it is compared: lower case, no accents, "&" as "and", single spaces."""
    plain = unicodedata.normalize("NFKD", text.replace("&", " and ")).casefold()
    bare = "".join(c for c in plain if not unicodedata.combining(c)).translate(_LETTERS)
    return _SIGNS.sub(" ", bare).strip()


def is_name(text: str) -> bool:
    """Return whether what a report gives as a maker or lot can be a name at all."""
    folded = fold(text)
    return (
        2 <= len(folded) <= NAME_CHARS // 2
        and any(c.isalnum() for c in folded)
        and folded not in _NOBODY
        and len(folded.split()) <= 4
    )


def pattern_of(names: Iterable[str]) -> re.Pattern[str] | None:
    """Return what finds any of the names, also in the plural, in a folded text; None for none."""
    folded = {fold(name) for name in names}
    usable = sorted((name for name in folded if len(name) >= LEAST_CHARS), key=len, reverse=True)
    if not usable:
        return None
    either = "|".join(re.escape(name) for name in usable)
    # Folding turns "maker's" into "maker s"; both that and the plural speak of the same.
    return re.compile(rf"(?<!\w)(?:{either})(?:e?s| s)?(?!\w)")
