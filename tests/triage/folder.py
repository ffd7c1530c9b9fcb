"""A small knowledge folder for tests, written as the files people edit."""

from pathlib import Path

FILES = {
    "sources.toml": """
[memory]
title = "Estimate from memory"
[common-practice]
title = "Common practice"
""",
    "materials.toml": """
[[material]]
code = "PLA"
name = "Polylactide"
process = "MEX"
words = ["pla", "pla+"]
nozzle_c = [190, 220]
bed_c = [50, 65]
glass_c = 58
source = "memory"
[[material]]
code = "RESIN"
name = "Photopolymer resin"
process = "VPP"
words = ["resin"]
source = "memory"
""",
    "cautions.toml": """
[[caution]]
id = "unplug-first"
text = "Switch off and unplug, and let a licensed electrician look at it."
danger = true
""",
    "dangers.toml": """
[[danger]]
id = "scorched-plug"
name = "A scorched plug"
say = "Please switch the printer off and unplug it now."
caution = "unplug-first"
""",
    "faults/thermal.toml": """
[[fault]]
id = "shrinkage-warp"
process = "MEX"
family = "thermal"
name = "Corners lift as the material shrinks"
sign = "Corners curl up."
why = "Plastic shrinks as it cools."
prior = 0.06
source = "memory"
[[fault]]
id = "filament-wet"
process = "MEX"
family = "material"
name = "Filament has taken up water"
sign = "Popping and fine strings."
why = "Water boils in the nozzle."
prior = 0.08
source = "common-practice"
""",
    "faults/other.toml": """
[[fault]]
id = "wiring-overheated"
process = "any"
family = "electronics"
name = "Connector or cable scorched"
sign = "Brown plug."
why = "A loose contact heats up."
prior = 0.01
source = "memory"
[[fault]]
id = "resin-under-exposed"
process = "VPP"
family = "resin"
name = "Exposure too short"
sign = "Soft details."
why = "Too little light."
prior = 0.15
source = "memory"
""",
    "findings/all.toml": """
[[finding]]
id = "corners-lifted"
kind = "part"
process = "MEX"
name = "Corners have lifted from the plate"
question = "Have any corners lifted off the plate?"
help = "Look from the side at plate height."
leak = 0.03
minutes = 1
source = "memory"
[[finding]]
id = "fine-strings"
kind = "part"
process = "MEX"
name = "Fine strings between parts"
question = "Are there fine strings between parts?"
leak = 0.05
minutes = 1
source = "memory"
[[finding]]
id = "popping-sounds"
kind = "sense"
process = "MEX"
name = "Popping from the nozzle"
question = "Do you hear popping from the nozzle?"
leak = 0.01
minutes = 2
needs = ["a quiet room"]
source = "memory"
[[finding]]
id = "brown-plug"
kind = "machine"
process = "any"
name = "A plug has turned brown"
question = "Has any plug turned brown?"
leak = 0.001
minutes = 1
danger = "scorched-plug"
source = "memory"
[[finding]]
id = "soft-details"
kind = "part"
process = "VPP"
name = "Details are soft"
question = "Are small details soft or missing?"
leak = 0.05
minutes = 1
source = "memory"
""",
    "links/all.toml": """
[shrinkage-warp]
source = "common-practice"
corners-lifted = 0.85
[filament-wet]
source = "memory"
fine-strings = 0.7
popping-sounds = { p = 0.6, source = "common-practice" }
[wiring-overheated]
source = "memory"
brown-plug = 0.8
[resin-under-exposed]
source = "memory"
soft-details = 0.8
""",
    "risks/all.toml": """
[[risk]]
id = "open-spool"
name = "The spool stood open for weeks"
question = "Has the spool stood open for weeks?"
process = "MEX"
odds = { filament-wet = 3.0 }
source = "memory"
""",
    "actions/all.toml": """
[[action]]
id = "unplug-printer"
kind = "safety"
process = "any"
name = "Switch off and unplug"
how = "Switch off at the wall and pull the plug."
minutes = 1
cautions = ["unplug-first"]
source = "memory"
[[action]]
id = "dry-filament"
kind = "remedy"
process = "MEX"
name = "Dry the spool"
how = "Dry it for 5 hours at 50 °C."
minutes = 10
wait_minutes = 300
cures = { filament-wet = 0.85 }
source = "memory"
[[action]]
id = "clean-plate"
kind = "remedy"
process = "MEX"
name = "Clean the plate"
how = "Wash it with warm water and a drop of detergent."
minutes = 5
cures = { shrinkage-warp = 0.3 }
source = "memory"
[[action]]
id = "replace-cable"
kind = "remedy"
process = "any"
name = "Have the cable replaced"
how = "Ask an electrician."
minutes = 60
money = 20.0
cures = { wiring-overheated = 0.9 }
source = "memory"
[[action]]
id = "expose-longer"
kind = "remedy"
process = "VPP"
name = "Expose longer"
how = "Add half a second."
minutes = 5
cures = { resin-under-exposed = 0.8 }
source = "memory"
[[action]]
id = "listen-at-nozzle"
kind = "check"
process = "MEX"
name = "Listen at the nozzle"
how = "Feed some filament by hand and listen."
minutes = 2
settles = ["popping-sounds"]
source = "memory"
""",
    "phrases/all.toml": """
[finding.corners-lifted]
present = ["corner* .. lift*/curl*", "warp*"]
[finding.fine-strings]
present = ["string*"]
[finding.popping-sounds]
present = ["popping"]
[finding.soft-details]
present = ["soft details"]
[risk.open-spool]
present = ["spool .. open"]
[tried.dry-filament]
present = ["dried .. filament/spool"]
[guess.filament-wet]
present = ["wet filament"]
[danger.scorched-plug]
present = ["plug .. brown/scorched"]
""",
}


def write_folder(
    folder: Path, changes: dict[str, str] | None = None, *, swaps: dict[str, str] | None = None
) -> Path:
    """Write the small knowledge into a folder and return it.

    `changes` replaces or adds whole files ("" leaves a file out); `swaps` replaces a text that
    occurs in exactly one place of all files.
    """
    files = FILES | (changes or {})
    for old, new in (swaps or {}).items():
        places = [name for name, text in files.items() if text.count(old) == 1]
        assert len(places) == 1, f"{old!r} is in {places}"
        files[places[0]] = files[places[0]].replace(old, new)
    for name, text in files.items():
        if text:
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
    return folder
