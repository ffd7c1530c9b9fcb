"""Common slips of the pen, read as the word that was meant.

Only slips that are no word of their own stand here, so that nothing right is read wrongly.
"""

from collections.abc import Mapping
from typing import Final

MEANT: Final[Mapping[str, str]] = {
    slip: word
    for word, slips in {
        "doesnt": "dosnt doesent dosent doesnot",
        "didnt": "didint diddnt ditnt",
        "isnt": "isent isnot",
        "wont": "wonnt willnt",
        "cannot": "cannott canot",
        "without": "whitout witout whithout withouth",
        "with": "wiht",
        "the": "teh hte",
        "stick": "stik sitck stikc",
        "sticks": "stiks",
        "sticking": "stiking",
        "nozzle": "nozle nozzel nozel nuzzle nozzl",
        "filament": "fillament filement filiment fillement filamant filamnet",
        "layer": "layr leyer",
        "layers": "layrs leyers laiers layeres",
        "corner": "conrer coner cornor",
        "corners": "conrers coners cornors corrners",
        "extruder": "extuder extrudor extruter exruder",
        "connector": "conector connecter conecter conektor",
        "connectors": "conectors connecters conecters",
        "socket": "soket sockett",
        "cable": "cabel kable",
        "cables": "cabels",
        "wire": "wier",
        "melted": "meltet mellted",
        "burnt": "burnd",
        "smell": "smel",
        "smells": "smels",
        "heated": "heatet",
        "temperature": "temprature temperatur tempreture tempature temerature",
        "retraction": "retration retracton",
        "stringing": "strining stringging",
        "surface": "surfice surfase",
        "bubbles": "bubles",
        "warping": "warpping waprping",
        "shifted": "shiftet shfited",
        "support": "suport supprt",
        "supports": "suports supprts",
        "separate": "seperate",
        "separated": "seperated",
        "separating": "seperating",
        "broken": "brocken",
        "through": "throught",
        "between": "betwen beetween beetwen",
        "suddenly": "suddently sudenly",
        "always": "allways alwais",
        "height": "hight heigth heigt",
        "adhesion": "adheasion adhession adhesian",
        "thin": "thinn",
        "missing": "mising",
        "gaps": "gabs",
        "spool": "spol",
        "infill": "infil",
    }.items()
    for slip in slips.split()
    if slip not in {"sting", "", "doesn", "didn", "whit"}
}
"""Slip → the word meant, both as the reader sees words: lower-case and without apostrophes."""
