"""Words that are not neutral, each list with what to write in its place: judgement of the desk."""

import re
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Rule:
    """Words that are not neutral, and what to write in their place."""

    id: str
    name: str
    pattern: re.Pattern[str]
    instead: str


def _rule(rule_id: str, name: str, *, words: Sequence[str], instead: str) -> Rule:
    either = "|".join(words)
    return Rule(rule_id, name, re.compile(rf"(?<!\w)(?:{either})(?!\w)", re.IGNORECASE), instead)


RULES: Sequence[Rule] = (
    _rule(
        "intensifier",
        "Intensifier",
        words=(
            "very",
            "extremely",
            "incredibly",
            "unbelievably",
            "totally",
            "completely",
            "utterly",
            "absolutely",
            "ridiculously",
            "hugely",
            "massively",
            "insanely",
            "shockingly",
            "appallingly",
            "outrageously",
            "literally",
            "so bad",
            "way too",
            "terribly",
            "horribly",
            "awfully",
            "grossly",
            "wildly",
        ),
        instead=("Leave the word out, or give the measure it stands for: “0.08 mm too thick”."),
    ),
    _rule(
        "insult",
        "Insult",
        words=(
            "garbage",
            "rubbish",
            "trash",
            "junk",
            "crap(?:py)?",
            "scam(?:s|mers?|ming)?",
            "rip[- ]?offs?",
            "frauds?",
            "fraudulent",
            "con artists?",
            "crooks?",
            "liars?",
            "idiots?",
            "idiotic",
            "incompetent",
            "amateurs?",
            "amateurish",
            "shoddy",
            "worthless",
            "useless",
            "pathetic",
            "a joke",
            "laughable",
            "disgrace(?:ful)?",
            "disgusting",
            "awful",
            "terrible",
            "horrible",
            "dreadful",
            "atrocious",
            "abysmal",
            "shit(?:ty)?",
            "sham(?:bles)?",
            "cowboys?",
            "cheapskates?",
            "snake oil",
            "dumpster fire",
        ),
        instead=("Name the fault that was found: “the strand measured 1.61 to 1.89 mm”."),
    ),
    _rule(
        "motive",
        "Motive",
        words=(
            "they knew",
            "(?:they|he|she|it) must have known",
            "knew (?:about|full well|all along)",
            "knowingly",
            "on purpose",
            "deliberate(?:ly)?",
            "intentional(?:ly)?",
            "wilful(?:ly)?",
            "negligen(?:t|tly|ce)",
            "careless(?:ly|ness)?",
            "(?:do|does|did)(?: not|n['’]t) care",
            "cover(?:ed|ing)?[- ]up",
            "(?:to|trying to|tried to) (?:hide|deceive|mislead|cheat)",
            "(?:hid|hiding|concealed)",
            "greed(?:y)?",
            "cut(?:ting)? corners",
            "lied",
            "lying",
            "dishonest(?:ly)?",
            "mislead(?:ing)?",
            "misled",
            "deceptive",
            "ignor(?:ed|es|ing) (?:us|customers?|complaints?|everybody|everyone)",
            "refus(?:ed|es) to",
        ),
        instead=(
            "Nobody here can see a motive. Say what was done and when: “the maker has not "
            "replied since 3 March”."
        ),
    ),
    _rule(
        "absolute",
        "Absolute claim",
        words=(
            "always",
            "never",
            "every (?:single )?(?:spool|roll|print|part|nozzle|printer|batch|time|one)",
            r"all (?:of )?(?:their|its|his|her|the) \w+",
            "none of (?:their|its|the)",
            "everything (?:they|it)",
            "nothing (?:they|it)",
            "without exception",
            "guaranteed(?: to)?",
            "certain(?:ly)? to",
            "impossible",
            "100 ?%",
            "no doubt",
            "undoubtedly",
            "definitely",
            "obviously",
            "clearly",
            "proven",
            "proves?",
            "the worst",
            r"worst (?:\w+ )?ever",
            "the only",
        ),
        instead=("Give the count: “on 3 of the 11 prints we know of”."),
    ),
    _rule(
        "generalisation",
        "One case for all",
        words=(
            "everybody (?:knows|says|agrees|has)",
            "everyone (?:knows|says|agrees|has)",
            "as usual",
            "typical(?:ly)?(?: for| of)?",
            "once again",
            "yet again",
            "known for",
            "notorious(?:ly)?",
            "infamous(?:ly)?",
            "(?:a )?history of",
            "their (?:products|filaments?|spools|parts|printers|nozzles|stuff)"
            " (?:are|is|breaks?|fails?|jams?)",
            "people (?:always|keep)",
            "it is well known",
            "as we all know",
            "what (?:do )?you expect",
            "you get what you pay for",
        ),
        instead=("Speak of the print in hand: “this spool”, “the nozzle of this case”."),
    ),
    _rule(
        "advice-against",
        "Verdict on buying",
        words=(
            "(?:do not|don['’]t|never) buy",
            "avoid (?:them|it|this (?:maker|brand|seller|shop))",
            "stay away(?: from)?",
            "steer clear(?: of)?",
            "boycott",
            "waste of money",
            "not worth (?:it|the money)",
            "(?:should|must) be (?:banned|sued|shut down)",
            "sue (?:them|it)",
            "illegal(?:ly)?",
            "criminal(?:s|ly)?",
            "unsafe company",
            "beware of",
        ),
        instead=(
            "Say what was found and let people decide: “look at the first metres before a long "
            "print”."
        ),
    ),
)
