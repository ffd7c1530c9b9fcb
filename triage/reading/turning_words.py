"""Single words that bound, answer or describe what is said; see `triage.reading.scope`."""

from typing import Final

STOP_WORDS: Final = frozenset(
    {"because", "since", "so", "when", "whenever", "until", "till", "unless", "then", "if"}
    | {"while", "where", "which", "after", "before", "once", "just", "only", "instead", "still"}
    | {"even", "due", "therefore", "hence", "thus", "cos", "cuz", "meanwhile", "yet"}
)
"""Words that open a new thought and end the reach of a denial."""

SUBJECT_WORDS: Final = frozenset(
    {"i", "it", "they", "we", "there", "he", "she", "im", "ive", "its"} | {"nothing", "nobody"}
)
"""Words that begin a new statement after "no" or "without"."""

NO_ANSWERS: Final = frozenset({"no", "nope", "none", "nah", "nil", "negative", "never"})
"""Words that answer a heading or question ("Strings: none.")."""

WELL_ANSWERS: Final = frozenset({"ok", "okay", "fine", "good", "perfect"})
"""Words that answer a heading with praise ("Strings: ok.")."""

BEHIND_PRAISE: Final = frozenset(
    {"again", "now", "and", "so", "for", "since", "after", "when", "with", "on", "at", "in", "as"}
    | {"then", "today", "though", "too", "also", "enough", "otherwise", "until", "if", "because"}
    | {"here", "there", "there's", "to", "by", "from", "it", "i", "where", "while", "or", "ever"}
    | {"all", "everywhere", "both", "already", "anyway", "apart", "once", "before", "this", "that"}
    | {"thanks", "thank", "only", "just", "the", "my", "a", "up", "out", "not", "no", "yet"}
)
"""Words that may follow a word of praise; before any other it describes ("fine hairs")."""

RELATIVE_WORDS: Final = frozenset({"that", "which", "where", "without", "who"})
"""Words between two denials that make the second affirm."""

RECOVERY_WORDS: Final = frozenset(
    {"recovers", "recovered", "recover", "recovering", "clears", "cleared", "clear", "itself"}
    | {"better", "improves", "improved", "fine", "ok", "okay", "good", "well", "perfect"}
)
"""Words of phrases that tell of recovery themselves; "… and is fine again" does not end them."""

VAGUE_NEGATION: Final = frozenset({"hardly", "barely", "scarcely"})
"""Denials that leave a little of what they deny."""

OPENING_NEGATION: Final = frozenset({"or", "nor"})
