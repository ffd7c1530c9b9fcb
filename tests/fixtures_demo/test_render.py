"""The demo's photos: drawn the same each time, and really showing their faults."""

from __future__ import annotations

import subprocess
import sys
import time
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageOps

from fixtures_demo.render import COLORS, SCENES, describe, photo_bytes, render_photo
from fixtures_demo.render.catalog import VIEWS
from fixtures_demo.render.photo import LATITUDE, PLACE_BLOCK
from fixtures_demo.render.scene_kit import Request
from fixtures_demo.render.scenes_shape import layer_shift, stringing_cones

SMALL = (320, 240)
ROOT = Path(__file__).resolve().parents[2]

NEEDED = [
    "layer-shift",
    "layer-shift-close",
    "knocked-over",
    "warped-tray",
    "stringing-cones",
    "thin-spell-recovers",
    "sagging-underside",
    "section-ring",
    "elephant-foot",
    "ripples",
    "z-bands",
    "pillow-top",
    "split-layers",
    "blobs",
    "spaghetti",
    "melted-spire",
    "gaps-everywhere",
    "seam-ridge",
    "bridge-sag",
    "support-fallen",
    "scorched-plug",
    "offcentre-nozzle",
    "speck-in-strand",
    "melt-above-block",
    "first-layer-strands",
    "first-layer-see-through",
    "plate-finger-marks",
    "resin-torn",
    "resin-cup-split",
    "resin-film-cloudy",
    "resin-pancake",
    "resin-soft-detail",
    "air-print-stop",
    "oval-holes",
    "under-extruded-walls",
    "good-print",
    "wet-foamy-surface",
]


def pixels(picture):
    return np.asarray(picture.convert("RGB"), dtype=np.float64)


def colorful(picture):
    """Return which pixels are strongly coloured, as the orange plastic is and the room is not."""
    values = pixels(picture)
    return (values[..., 0] - values[..., 2] > 90) & (values[..., 0] > 120)


def test_catalogue_has_every_scene_the_demo_names():
    """The catalogue holds exactly the scenes that the demo's cases name."""
    assert sorted(SCENES) == sorted(NEEDED)


@pytest.mark.parametrize("scene", NEEDED)
def test_photo_of_each_view_has_the_size_and_the_variety_of_a_photo(scene):
    """Every view of every scene is drawn, in colour, neither blank nor burnt out."""
    for view in SCENES[scene].views:
        picture = render_photo(scene, seed=4, view=view, color="orange", size=SMALL)
        values = pixels(picture)

        assert picture.size == SMALL
        assert picture.mode == "RGB"
        assert 20 < values.mean() < 225
        assert values.std() > 12
        assert (values.min(axis=2) > 250).mean() < 0.12


def test_photo_is_the_same_for_the_same_arguments():
    """The same arguments give the same bytes."""
    first = render_photo("spaghetti", seed=11, size=SMALL)
    second = render_photo("spaghetti", seed=11, size=SMALL)

    assert first.tobytes() == second.tobytes()


@pytest.mark.parametrize("changed", [{"seed": 12}, {"color": "red"}, {"material": "gloss"}])
def test_photo_changes_with_each_argument(changed):
    """Another seed, colour or material gives another picture."""
    usual: dict[str, Any] = {"seed": 11, "color": "teal", "material": "matt"}
    first = render_photo("blobs", size=SMALL, **usual)
    second = render_photo("blobs", size=SMALL, **(usual | changed))

    assert np.abs(pixels(first) - pixels(second)).mean() > 1


def middle_per_row(picture):
    """Return the middle column of the coloured object for every picture row that shows it."""
    mask = colorful(picture)
    columns = np.arange(mask.shape[1])
    return {row: float(columns[line].mean()) for row, line in enumerate(mask) if line.sum() >= 8}


def tallest_jump(picture):
    """Return the largest step of the object's middle from any 12 rows to the 12 above them."""
    middles = np.array([middle for _, middle in sorted(middle_per_row(picture).items())])
    trimmed = middles[6:-6]
    means = np.convolve(trimmed, np.ones(12) / 12, mode="valid")
    return float(np.max(means[:-14] - means[14:]))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_shifted_tower_stands_to_the_right_above_the_shift(seed):
    """The upper part's middle lies well to the right of the lower part's, in one step."""
    picture = render_photo("layer-shift", seed=seed, color="orange", size=(640, 480))
    rows = sorted(middle_per_row(picture).items())
    quarter = len(rows) // 4
    above = np.mean([middle for _, middle in rows[:quarter]])
    below = np.mean([middle for _, middle in rows[-quarter:]])

    assert above - below > 8
    assert tallest_jump(picture) > 8


def test_unshifted_tower_stands_straight():
    """A tower that did not shift has no step of its middle as the shifted tower has."""
    picture = render_photo("blobs", seed=3, color="orange", size=(640, 480))
    shifted = render_photo("layer-shift", seed=3, color="orange", size=(640, 480))

    assert abs(tallest_jump(picture)) < tallest_jump(shifted) / 2


def test_layer_shift_is_a_step_in_the_solid():
    """The solid itself has a ledge: some places are inside above the shift but not below it."""
    shot = layer_shift(Request("whole", "teal", "matt", np.random.default_rng(5)))
    solid = shot.parts[0].shape
    heights = np.arange(12.6, 40, 0.42, dtype=np.float32) + np.float32(0.21)
    xs = np.arange(-22, 22, 0.1, dtype=np.float32)
    middles = []
    for height in heights:
        inside = solid(xs, np.full_like(xs, 5), np.full_like(xs, height)) < 0
        middles.append(float(xs[inside].mean()))
    steps = np.diff(middles)

    assert 3.8 < steps.max() < 6.0
    assert np.sort(np.abs(steps))[-2] < 0.5


def test_strings_are_thin_bright_pixels_between_the_cones():
    """Drawing the threads brightens some, not most, of the pixels between the cones."""
    from_scene = render_photo("stringing-cones", seed=6, color="white", size=(640, 480))
    values = pixels(from_scene).mean(axis=2)
    gap = values[150:300, 290:350]
    sharp = gap - np.asarray(
        [
            [gap[max(0, r - 4) : r + 5, c].mean() for c in range(gap.shape[1])]
            for r in range(gap.shape[0])
        ]
    )

    assert 0.01 < (sharp > 12).mean() < 0.35


def test_strings_hang_between_the_cones_and_not_inside_them():
    """Each thread starts at one cone's wall and ends at the other's, and is thinner than a line."""
    shot = stringing_cones(Request("whole", "teal", "matt", np.random.default_rng(5)))
    across = [s for s in shot.strands if np.ptp(s.points[:, 0]) > 12]
    middles = np.array([s.points[len(s.points) // 2] for s in across])

    assert len(across) >= 40
    assert np.all(np.abs(middles[:, 0]) < 12)
    assert max(s.radius for s in shot.strands) < 0.2


def test_scorched_plug_has_black_and_brown_where_a_clean_plug_is_white():
    """The plug shows white, brown and near-black pixels."""
    values = pixels(render_photo("scorched-plug", seed=2, view="close", size=SMALL))
    red, green, blue = (values[..., k] for k in range(3))

    assert ((values.min(axis=2) > 170) & (red - blue < 50)).mean() > 0.05
    assert (values.max(axis=2) < 60).mean() > 0.01
    assert ((red - blue > 35) & (red < 150) & (green < 110)).mean() > 0.01


def test_bands_repeat_up_the_vase():
    """The brightness down the vase has one strong period between 3 and 6 mm."""
    values = pixels(render_photo("z-bands", seed=3, color="teal", size=(640, 480)))
    line = values[150:390, 312:328].mean(axis=(1, 2))
    line = np.convolve(line, np.ones(7) / 7, mode="valid")  # no single layers
    line = line - np.convolve(np.pad(line, 20, mode="edge"), np.ones(41) / 41, mode="valid")
    power = np.abs(np.fft.rfft(line * np.hanning(line.size))) ** 2
    peak = int(np.argmax(power[4:60])) + 4
    px_per_mm = 320 / np.tan(np.radians(18)) / 205

    assert power[peak - 1 : peak + 2].sum() / power[1:].sum() > 0.5
    assert 3.3 < line.size / peak / px_per_mm < 5.2


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"view": "below"}, "has the views"),
        ({"color": "ultraviolet"}, "Colours are"),
        ({"material": "stone"}, "Materials are"),
        ({"size": (10, 900)}, "at least 64 px"),
    ],
)
def test_photo_rejects_what_it_cannot_draw(arguments, message):
    """An unknown view, colour, material or too small a size is an error that says what is known."""
    with pytest.raises(ValueError, match=message):
        render_photo("blobs", seed=1, **arguments)


def test_photo_rejects_an_unknown_scene():
    """An unknown scene is a KeyError that names it."""
    with pytest.raises(KeyError, match="no-such-scene"):
        render_photo("no-such-scene", seed=1)


def test_photo_is_drawn_quickly():
    """A full-size photo takes little processor time, since the demo draws about eighty."""
    render_photo("seam-ridge", seed=1, size=SMALL)
    start = time.process_time()
    render_photo("seam-ridge", seed=1)

    assert time.process_time() - start < 1.5  # about 0.4 s on a quiet machine


def test_description_is_one_sentence_for_every_view():
    """Each description is one sentence that starts with a capital and names the colour if shown."""
    for scene, info in SCENES.items():
        assert info.fault
        for view in info.views:
            words = describe(scene, view, "orange")

            assert words[0].isupper()
            assert words.endswith(".")
            assert words.count(".") == 1
            assert ("{" in info.alt) == ("orange" in words)


def test_description_takes_the_right_article_and_says_the_view():
    """A vowel takes "an", and a close view says so."""
    assert describe("blobs", "whole", "orange").startswith("An orange round tower")
    assert describe("blobs", "close", "teal").startswith("Close up: a teal round tower")


def test_description_rejects_a_view_that_is_not_drawn():
    """A view that the scene lacks is an error."""
    with pytest.raises(ValueError, match="not below"):
        describe("blobs", "below", "teal")


def test_every_view_is_known_and_every_scene_can_be_seen_whole():
    """Views are those of the contract, and "whole" is always one of them."""
    for info in SCENES.values():
        assert "whole" in info.views
        assert set(info.views) <= set(VIEWS)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_file_is_upright_once_its_orientation_is_obeyed(orientation):
    """A file with any orientation shows the same picture after it is turned as it says."""
    upright = render_photo("blobs", seed=2, size=SMALL)
    data = photo_bytes("blobs", seed=2, size=SMALL, format="PNG", orientation=orientation)
    opened = Image.open(BytesIO(data))

    assert opened.getexif().get(0x0112, 1) == orientation
    assert ImageOps.exif_transpose(opened).tobytes() == upright.tobytes()


@pytest.mark.parametrize("format", ["JPEG", "PNG", "WEBP"])
def test_file_carries_a_place_only_when_asked(format):
    """The invented place is in the file when asked for, and nothing of the kind otherwise."""
    with_place = Image.open(
        BytesIO(photo_bytes("blobs", seed=2, size=SMALL, format=format, exif_place=True))
    )
    without = Image.open(BytesIO(photo_bytes("blobs", seed=2, size=SMALL, format=format)))

    assert with_place.format == format
    assert with_place.getexif().get_ifd(PLACE_BLOCK)[LATITUDE] == (48.0, 15.0, 0.0)
    assert not without.getexif()


def test_file_rejects_an_orientation_outside_the_standard():
    """An orientation of 0 or 9 is an error."""
    with pytest.raises(ValueError, match="Orientation is 1 to 8"):
        photo_bytes("blobs", seed=2, orientation=9)


def test_command_line_writes_the_photo_and_says_what_it_shows(tmp_path):
    """The command writes a file of full size and prints the description."""
    out = tmp_path / "photo.png"
    done = subprocess.run(  # noqa: S603 - our own command line, fixed arguments
        [sys.executable, "-m", "fixtures_demo.render", "blobs", str(out), "--view", "close"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )

    with Image.open(out) as picture:
        assert picture.size == (1200, 900)
    assert "small lumps of plastic" in done.stdout + done.stderr


def test_colors_are_written_as_six_hexadecimal_digits():
    """Every named colour is a # and six hexadecimal digits."""
    for code in COLORS.values():
        assert len(code) == 7
        assert int(code[1:], 16) >= 0
