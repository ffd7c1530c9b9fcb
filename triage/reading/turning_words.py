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

DESCRIBED: Final = frozenset(
    {"hair", "hairs", "line", "lines", "string", "strings", "stringing", "thread", "threads"}
    | {"strand", "strands", "wisp", "wisps", "whisker", "whiskers", "web", "webs", "cobweb"}
    | {"cobwebs", "dust", "powder", "crack", "cracks", "gap", "gaps", "hole", "holes", "pinholes"}
    | {"ripple", "ripples", "wave", "waves", "band", "bands", "stripe", "stripes", "ridge"}
    | {"ridges", "pattern", "grain", "sand", "mesh", "net", "fuzz", "fluff", "detail", "details"}
    | {"tip", "tips", "point", "points", "features", "blobs", "zits", "bubbles", "scratches"}
)
"""Things a word of praise describes when it stands before them ("fine hairs" are thin ones)."""

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
