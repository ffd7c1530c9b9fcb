"""Words that tell which setting a number is, and words that say it is none."""

from collections.abc import Mapping
from typing import Final

LABELS: Final[Mapping[str, str]] = {
    **dict.fromkeys(("nozzle", "nozzles", "nozzel", "nozle", "tip"), "nozzle"),
    **dict.fromkeys(("hotend", "hot", "extruder"), "hotend"),
    **dict.fromkeys(("bed", "plate", "heatbed", "buildplate", "platform"), "bed"),
    **dict.fromkeys(("layer", "layers", "layerheight"), "layer"),
    **dict.fromkeys(("speed", "speeds", "feedrate"), "speed"),
    **dict.fromkeys(("fan", "fans", "cooling"), "fan"),
    **dict.fromkeys(("retraction", "retract", "retractions", "retracting"), "retract"),
    **dict.fromkeys(("flow", "flowrate", "multiplier"), "flow"),
    **dict.fromkeys(("exposure", "exposures", "exposed"), "exposure"),
    **dict.fromkeys(("dry", "dried", "drying", "dryer", "drier", "oven", "dehydrator"), "away"),
    **dict.fromkeys(("chamber", "enclosure", "room", "ambient", "workshop", "garage"), "away"),
    **dict.fromkeys(("anneal", "annealed", "annealing", "cured", "curing"), "away"),
    **dict.fromkeys(("wash", "washed", "washing", "rinsed", "soaked"), "away"),
    **dict.fromkeys(("infill", "humidity", "acceleration", "jerk", "travel"), "away"),
    **dict.fromkeys(("wall", "walls", "perimeter", "perimeters"), "away"),
    **dict.fromkeys(("filament", "tube", "offset", "gap", "brim", "tolerance"), "away"),
}
"""Words that name a setting, or ("away") something whose numbers are no setting here."""

CONNECTORS: Final = frozenset(
    {"a", "about", "approx", "approximately", "are", "around", "at", "between", "currently", "down"}
    | {"diameter", "distance", "end", "from", "heated", "height", "heights", "im", "is", "length"}
    | {"of", "on", "only", "rate", "ratio", "roughly", "running", "set", "size", "sized", "temp"}
    | {"temperature", "temps", "the", "thickness", "time", "times", "to", "up", "using", "value"}
    | {"was", "with", "percentage", "its", "now", "normal", "amount", "factor", "through", "my"}
)
"""Words that may stand between a label and its number."""

QUALIFIERS: Final = frozenset(
    {"brass", "steel", "hardened", "stainless", "ruby", "standard", "stock", "new", "old", "hot"}
    | {"print", "printing", "part", "heated", "normal", "layer", "cooling", "end", "size", "for"}
    | {"diameter", "my", "the", "on"}
)
"""Words that may stand between a number and the label behind it."""

RETRACTING: Final = frozenset({"retraction", "retract", "retractions", "retracting"})
"""Words of drawing the filament back, whose speed is not that of printing."""

TEMP_WORDS: Final = frozenset({"temp", "temps", "temperature"})
"""Words for a temperature without saying whose."""

EARLY: Final = frozenset({"first", "initial", "st", "bottom", "base"})
"""Words for the first layers, whose settings are not those of the print."""

COUNTED: Final = frozenset(
    {"times", "x", "days", "day", "weeks", "months", "years", "prints", "nozzles", "different"}
    | {"layers", "layer", "more", "printers", "parts", "th", "st", "nd", "rd", "of", "walls"}
)
"""Words behind a bare number that make it a count."""

DISTANCES: Final = frozenset(
    {"off", "above", "away", "too", "closer", "gap", "clearance", "lower", "higher", "below"}
    | {"thick", "high", "close", "over", "from"}
)
"""Words behind a length that make it a distance or height."""

SIZES: Final = frozenset(
    {"tall", "wide", "long", "cube", "cubes", "thick", "diameter", "deep", "hole", "holes", "gap"}
    | {"square", "filament", "nozzle", "layer", "layers", "retraction", "brim", "walls", "wall"}
    | {"left", "right", "back", "forward", "sideways", "apart", "tube", "offset", "z", "x", "y"}
    | {"screw", "screws", "bolt", "rod", "rods", "bigger", "smaller", "oversize", "undersize"}
)
"""Words behind a length that make it a size of something."""

MOVED: Final = frozenset(
    {"by", "shifted", "shift", "moved", "moves", "offset", "lifted", "lift", "curled", "raised"}
    | {"lowered", "retraction", "retract", "filament", "gap", "brim", "tolerance", "diameter"}
    | {"extrude", "extruded", "push", "pushed", "cut", "than", "wide", "shrunk", "drilled"}
)
"""Words before a length that make it a movement or a size."""

REACHED: Final = frozenset(
    {"at", "after", "past", "until", "till", "reaches", "reached", "reach", "height", "z", "above"}
    | {"hits", "to"}
)
"""Words before a length that make it a height reached."""

VAGUE: Final = frozenset(
    {"about", "around", "approx", "approximately", "roughly", "like", "the", "a", "of", "say"}
    | {"maybe", "only", "height", "exactly", "some", "nearly", "almost", "just", "its"}
)
"""Words between such a word and the length."""

UPWARD: Final = frozenset({"up", "high", "mark", "height", "in", "into", "above"})
"""Words behind a length that make it a height reached."""

FAILING: Final = frozenset(
    {"fail", "fails", "failed", "failing", "stop", "stops", "stopped", "shifts", "jam", "jams"}
    | {"jammed", "start", "starts", "started", "knocked", "suddenly", "until", "gave", "gives"}
    | {"quit", "quits", "detached", "detaches", "clogs", "clogged", "fell", "falls", "begins"}
    | {"starting", "stopping", "gets", "got", "made"}
)
"""Words earlier in the sentence that make a length the height of a failure."""

THROUGH: Final = frozenset({"in", "into", "later", "mark", "through"})
"""Words behind a time that make it the time of a failure."""

LASTING: Final = frozenset({"print", "prints", "job", "long", "ago", "per", "each", "straight"})
"""Words behind a time that make it the length of a print or a rate."""

TAKING: Final = frozenset({"took", "takes", "take", "taking", "every", "last", "within", "wait"})
"""Words before a time that make it a duration or a rate."""

FINE: Final = frozenset({"fine", "well", "ok", "okay", "perfect", "perfectly", "good", "great"})
"""Words of success that make "for three hours" the time of a failure."""
