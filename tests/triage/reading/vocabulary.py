"""A small vocabulary made for the tests: enough phrases to say something about a print."""

from triage.knowledge import Phrases
from triage.reading import Reader, Vocabulary

PHRASES = {
    "finding": {
        "warp": Phrases(("corner*/edge* .. lift*/curl*", "warp*"), ("corners flat", "lies flat")),
        "string": Phrases(("string/strings/stringing/stringy", "cobweb*"), ("walls clean",)),
        "gaps": Phrases(("gap/gaps", "hole/holes/holey"), ("walls .. fine/perfect/solid",)),
        "first": Phrases(
            ("first layer .. patchy/rough/uneven/bad",),
            ("first layer .. perfect/great/fine/good/lovely",),
        ),
        "loose": Phrases(
            ("not .. stick*", "wont/doesnt/didnt stick", "come* off .. bed/plate"),
            ("stick* well/fine/great/perfectly",),
        ),
        "shift": Phrases(("layer* .. shift*", "shifted")),
        "click": Phrases(("click*",)),
        "pop": Phrases(("popping/pops", "crackl*")),
        "scorch": Phrases(("plug/connector .. brown/scorched/melted",)),
        "tear": Phrases(("supports tear",)),
    },
    "risk": {
        "new-nozzle": Phrases(("chang* .. nozzle", "new nozzle")),
        "new-spool": Phrases(("new spool/roll",)),
    },
    "tried": {
        "level": Phrases(("levelled/leveled/relevelled .. bed/plate", "levelling/leveling")),
        "dry": Phrases(("dried .. filament/spool/it", "drying")),
        "brim": Phrases(("added .. brim",), named=("brim", "wider brim")),
        "swap": Phrases(("changed/swapped .. nozzle", "new nozzle")),
        "slow": Phrases(("slow* it down",)),
        "hotend": Phrases(("new hotend",)),
        "hotend-fan": Phrases(("new hotend fan",)),
        "hotter": Phrases(("temperature raised",)),
        "hotter-bed": Phrases(("bed temperature raised",)),
        "film": Phrases(("new film",)),
    },
    "guess": {
        "wet": Phrases(("filament .. wet/damp", "wet/damp filament", "moisture")),
        "clog": Phrases(("clog*/blocked",)),
    },
    "danger": {"burning": Phrases(("burn* smell", "smell* .. burn*", "smoke"))},
}

VOCABULARY = Vocabulary(
    phrases=PHRASES,
    material_words={
        "PLA": ("pla", "pla+"),
        "PETG": ("petg",),
        "ABS": ("abs",),
        "RESIN": ("standard resin",),
    },
    material_process={"PLA": "MEX", "PETG": "MEX", "ABS": "MEX", "RESIN": "VPP"},
    finding_process={"string": "MEX", "tear": "VPP"},
    remedy_process={"swap": "MEX", "film": "VPP"},
    finding_danger={"scorch": "burning"},
)

READER = Reader(VOCABULARY)


def stated(text: str) -> dict[str, str]:
    """Return finding to state as read; "?" behind the state marks a weak statement."""
    found = {}
    for seen in READER.read(text).observations:
        ratio = max(seen.if_present, seen.if_absent) / min(seen.if_present, seen.if_absent)
        found[seen.finding] = seen.state if ratio > 10.0 else f"{seen.state}?"
    return found
