"""What the words around a phrase make of it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Stance:
    """What the surroundings make of a phrase.

    Parameters
    ----------
    negated : bool
        It is denied.
    flatly_negated : bool
        It is denied beyond any other way of reading it; "hardly any" and a denial that reaches
        over an "and" ("no heat and smoke") are not enough.
    resolved : bool
        It is said to be over.
    hedged : bool
        It is doubted, asked, conditional or about an earlier time.
    advice : bool
        Somebody else said so.
    prevented : bool
        It is feared or guarded against.
    intended : bool
        It is planned, recommended or asked about.
    conditional : bool
        It is said to hold under a condition.
    """

    negated: bool = False
    flatly_negated: bool = False
    resolved: bool = False
    hedged: bool = False
    advice: bool = False
    prevented: bool = False
    intended: bool = False
    conditional: bool = False
