"""Every scene there is: what builds it, from where it can be seen, and what it shows."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from fixtures_demo.render import (
    scenes_machine,
    scenes_plate,
    scenes_resin,
    scenes_shape,
    scenes_walls,
)
from fixtures_demo.render.scene_kit import Request
from fixtures_demo.render.subject import Shot

VIEWS: Mapping[str, str] = MappingProxyType(
    {"whole": "", "close": "Close up", "top": "From above", "below": "From low down"}
)


@dataclass(frozen=True)
class SceneInfo:
    """One scene: its description, its views and its fault in a few words.

    In ``alt``, ``{a}`` stands for an article and the colour, as in "A teal" or "An orange".
    """

    alt: str
    views: tuple[str, ...]
    fault: str
    build: Callable[[Request], Shot]


def _layer_shift_close(ask: Request) -> Shot:
    return scenes_shape.layer_shift(replace(ask, view="close"))


_NEAR = ("whole", "close")
_TOP = ("whole", "close", "top")
_LOW = ("whole", "close", "below")

SCENES: Mapping[str, SceneInfo] = MappingProxyType(
    {
        "layer-shift": SceneInfo(
            "{a} castle tower on a build plate; its upper part sits several millimetres to the "
            "right of the lower part, with a clean step between them.",
            _TOP,
            "layers shifted sideways",
            scenes_shape.layer_shift,
        ),
        "layer-shift-close": SceneInfo(
            "{a} tower seen near the step where its upper part sits several millimetres to the "
            "right of the lower part; half of a window is displaced with it.",
            ("whole",),
            "layers shifted sideways",
            _layer_shift_close,
        ),
        "knocked-over": SceneInfo(
            "{a} tower lying on its side on a build plate, next to the ring-shaped brim that it "
            "stood on.",
            _NEAR,
            "print came off the plate",
            scenes_shape.knocked_over,
        ),
        "warped-tray": SceneInfo(
            "{a} shallow tray on a build plate; its corners have curled up and no longer touch "
            "the plate.",
            _TOP,
            "corners curled up",
            scenes_shape.warped_tray,
        ),
        "stringing-cones": SceneInfo(
            "{a} pair of tall cones with many fine threads of plastic hanging between them.",
            _NEAR,
            "threads between parts",
            scenes_shape.stringing_cones,
        ),
        "thin-spell-recovers": SceneInfo(
            "{a} print with a band of thin, gappy layers part way up; the layers above the band "
            "are sound again.",
            _NEAR,
            "a spell of too little plastic",
            scenes_shape.thin_spell_recovers,
        ),
        "sagging-underside": SceneInfo(
            "{a} wide bowl on a foot; loops of plastic droop from the underside of its rim.",
            _LOW,
            "overhang sagged",
            scenes_shape.sagging_underside,
        ),
        "section-ring": SceneInfo(
            "{a} open box with smooth walls and one raised ring running all round it part way up.",
            _NEAR,
            "a ring where the section changes",
            scenes_shape.section_ring,
        ),
        "elephant-foot": SceneInfo(
            "{a} block whose lowest layers bulge outwards along the plate, wider than the rest.",
            _NEAR,
            "first layers squashed outwards",
            scenes_shape.elephant_foot,
        ),
        "ripples": SceneInfo(
            "{a} box with faint upright waves on its walls that fade with the distance from each "
            "corner.",
            _NEAR,
            "ripples beside corners",
            scenes_shape.ripples,
        ),
        "z-bands": SceneInfo(
            "{a} tall vase with rounded ribs that repeat at even spacing all the way up.",
            _NEAR,
            "evenly repeating bands",
            scenes_shape.z_bands,
        ),
        "pillow-top": SceneInfo(
            "{a} flat box whose top face is puffed up in small cushions, some with open holes.",
            _TOP,
            "top face puffed and open",
            scenes_shape.pillow_top,
        ),
        "split-layers": SceneInfo(
            "{a} tall box with two cracks along its layers where the wall has come apart.",
            _NEAR,
            "layers split apart",
            scenes_shape.split_layers,
        ),
        "blobs": SceneInfo(
            "{a} round tower with small lumps of plastic scattered over its wall.",
            _NEAR,
            "lumps on the wall",
            scenes_shape.blobs,
        ),
        "spaghetti": SceneInfo(
            "{a} low stump of a print under a tangled nest of loose strands.",
            _TOP,
            "loose strands in the air",
            scenes_shape.spaghetti,
        ),
        "melted-spire": SceneInfo(
            "{a} spire whose thin tip has melted into a drooping lump.",
            _NEAR,
            "thin tip overheated",
            scenes_shape.melted_spire,
        ),
        "gaps-everywhere": SceneInfo(
            "{a} open box with gaps and bites in the lines of its walls from bottom to top.",
            _NEAR,
            "too little plastic throughout",
            scenes_walls.gaps_everywhere,
        ),
        "under-extruded-walls": SceneInfo(
            "{a} thin-walled cup with slits in its wall, so that the far side shows through.",
            _NEAR,
            "walls with slits",
            scenes_walls.under_extruded_walls,
        ),
        "seam-ridge": SceneInfo(
            "{a} cylinder with one rough ridge of small lumps running straight up its side.",
            _NEAR,
            "ridge along the seam",
            scenes_walls.seam_ridge,
        ),
        "bridge-sag": SceneInfo(
            "{a} bridge between two pillars; strands hang loose from its underside.",
            _LOW,
            "bridge sagged",
            scenes_walls.bridge_sag,
        ),
        "support-fallen": SceneInfo(
            "{a} bracket with an arm that nothing holds up; its support lies toppled in front and "
            "loops of plastic hang under the arm.",
            _NEAR,
            "support fell over",
            scenes_walls.support_fallen,
        ),
        "air-print-stop": SceneInfo(
            "{a} tower that ends part way up in ragged, thinning layers and a few wisps; the rest "
            "of it is missing.",
            _TOP,
            "plastic stopped part way",
            scenes_walls.air_print_stop,
        ),
        "oval-holes": SceneInfo(
            "{a} upright panel with three holes that should be round but are low and oval, with "
            "sagging strands at their tops.",
            _NEAR,
            "round holes came out oval",
            scenes_walls.oval_holes,
        ),
        "wet-foamy-surface": SceneInfo(
            "{a} cup whose wall is dull, pitted and rough, with short hairs standing off it.",
            _NEAR,
            "pitted, hairy surface",
            scenes_walls.wet_foamy_surface,
        ),
        "good-print": SceneInfo(
            "{a} finished print on a table, with even layers and clean edges.",
            _TOP,
            "none to be seen",
            scenes_walls.good_print,
        ),
        "scorched-plug": SceneInfo(
            "A white two-pole plug with a red and a black cable; one pole is browned, blackened "
            "and partly melted.",
            _NEAR,
            "plug scorched at one pole",
            scenes_machine.scorched_plug,
        ),
        "offcentre-nozzle": SceneInfo(
            "A brass nozzle lying tip upwards; the bore is plainly to one side of the flat tip.",
            _NEAR,
            "bore of the nozzle off centre",
            scenes_machine.offcentre_nozzle,
        ),
        "speck-in-strand": SceneInfo(
            "{a} piece of filament on paper with a bright splinter of metal embedded in it.",
            _NEAR,
            "foreign body in the filament",
            scenes_machine.speck_in_strand,
        ),
        "melt-above-block": SceneInfo(
            "A hot end whose metal block is covered from above by a lump of melted {colour} "
            "plastic that runs down its sides.",
            _NEAR,
            "plastic leaked above the block",
            scenes_machine.melt_above_block,
        ),
        "first-layer-strands": SceneInfo(
            "{a} first layer made of round, separate lines with the plate showing between them; "
            "several lines have come loose.",
            _TOP,
            "first layer too high",
            scenes_plate.first_layer_strands,
        ),
        "first-layer-see-through": SceneInfo(
            "{a} square of first layer so thin that the build plate shows through it.",
            _TOP,
            "first layer too low",
            scenes_plate.first_layer_see_through,
        ),
        "plate-finger-marks": SceneInfo(
            "An empty build plate with pale, greasy finger marks on it.",
            _TOP,
            "grease on the plate",
            scenes_plate.plate_finger_marks,
        ),
        "resin-torn": SceneInfo(
            "{a} resin figure on thin supports; its rear has torn away, bare supports stand where "
            "it was, and the piece lies in front.",
            _NEAR,
            "resin part torn from its supports",
            scenes_resin.resin_torn,
        ),
        "resin-cup-split": SceneInfo(
            "{a} resin cup whose wall bulges outwards and has a ragged split across it.",
            _NEAR,
            "resin wall blown out",
            scenes_resin.resin_cup_split,
        ),
        "resin-film-cloudy": SceneInfo(
            "An empty resin vat; its clear film has a milky patch with a dent and a scratch.",
            _NEAR,
            "release film cloudy and dented",
            scenes_resin.resin_film_cloudy,
        ),
        "resin-pancake": SceneInfo(
            "A resin vat with a flat cured slab of {colour} resin stuck to the film at its bottom.",
            _NEAR,
            "cured slab stuck to the film",
            scenes_resin.resin_pancake,
        ),
        "resin-soft-detail": SceneInfo(
            "{a} owl in resin with soft, blurred feathers and eyes, as if half melted.",
            _NEAR,
            "detail soft and blurred",
            scenes_resin.resin_soft_detail,
        ),
    }
)


def describe(scene: str, view: str = "whole", color: str = "teal") -> str:
    """Return one sentence that says what a photo of the scene shows.

    Raises
    ------
    KeyError
        If there is no such scene.
    ValueError
        If the scene has no such view.
    """
    info = SCENES[scene]
    if view not in info.views:
        raise ValueError(f"{scene} has the views {', '.join(info.views)}, not {view}.")
    article = "An" if color[0] in "aeiou" else "A"
    sentence = info.alt.format(a=f"{article} {color}", colour=color)
    if not VIEWS[view]:
        return sentence
    return f"{VIEWS[view]}: {sentence[0].lower()}{sentence[1:]}"
