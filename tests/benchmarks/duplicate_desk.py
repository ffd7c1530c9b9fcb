"""A made-up desk for measuring how duplicates are found: prints, and what people send of them.

Every print is reported once, and some are sent again: the photo compressed, cut, brightened, turned
or drawn on, the print photographed anew, the words copied or told again. Between them stand prints
that are merely similar: the same model in another colour, the same fault and words of a stranger, a
new print of the same person before the same camera. All words and people are invented.
"""

import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

import numpy as np
from PIL import Image, ImageDraw, ImageEnhance, ImageFilter

from fixtures_demo.render import COLORS, SCENES, render_photo

T = TypeVar("T")
SIZE = (480, 360)
FIRST = ("Alwin", "Berit", "Cosima", "Dagny", "Edda", "Falk", "Gesine", "Henrik", "Isolde", "Joost")
LAST = ("Quill", "Marsh", "Thorne", "Wold", "Fenwick", "Larkin", "Sedge", "Holm", "Birk", "Tarn")
PLACES = ("millrace", "tarnstreet", "oldquay", "ropewalk", "highmoor", "saltmarsh")
MACHINES = ("Tern 220", "Corvid C1", "Plover Mini", "Siskin R4", "")
MATERIALS = ("PLA", "PETG", "ABS", "TPU", "ASA", "")
OBJECTS = (
    "castle tower",
    "drawer handle",
    "gear for my clock",
    "vase",
    "lens hood",
    "plant pot",
    "hinge",
    "box for screws",
    "chess rook",
    "lamp shade",
    "phone stand",
    "whistle",
    "bracket",
    "cable clip",
    "fan duct",
    "cup",
    "figure of an owl",
    "soap dish",
    "door stop",
    "bird feeder",
)
SIGNS = (
    ("the corners curl up from the plate", "its edges lift off the bed", "it warps at the ends"),
    ("fine hairs hang between the parts", "there are strings all over", "it is full of cobwebs"),
    ("the upper half sits to the left", "everything above moved sideways", "the layers jumped"),
    ("the walls have gaps", "you can see through the side", "lines are missing in the wall"),
    (
        "the top is rough and open",
        "the roof has pillows and holes",
        "the last layers did not close",
    ),
    ("it came off in the night", "it let go of the plate", "I found it lying on its side"),
    ("there is a ring half way up", "one band is thicker", "a line runs round at one height"),
    ("the overhang droops", "the underside hangs in loops", "the bridge sagged"),
)
WHEN = ("after about {n} minutes", "at {n} mm", "at layer {n}", "{n} hours in", "near {n} percent")
TRIED = (
    "I have levelled the bed twice",
    "a new nozzle changed nothing",
    "drying the spool did not help",
    "I slowed it down to {n} mm/s",
    "I raised the bed to {n} degrees",
    "the belt is tight",
    "I printed it again and got the same",
    "the fan is at {n} percent",
    "I cleaned the plate",
)
CHAT = (
    "What is this?", "Any idea what I am doing wrong?", "Thanks for your show.", "Help please.",
    "My first print that went wrong like this.", "It is for my neighbour.", "Sorry for the photo.",
)  # fmt: skip
PASSED_ON = (
    "Saw this in our room and thought of you.", "Is this one for your show?", "Not mine.",
    "A friend asks about it.", "Found it on the board of our club, maybe you can help them.",
)  # fmt: skip
WRAPS = (
    "Fwd from our list:\n\n> {text}",
    "Hello, I pass this on.\n\n-----\n{text}\n-----\nBest wishes",
    "Somebody wrote in our group: {text} Can you answer them?",
)


@dataclass(frozen=True)
class Sent:
    """One thing sent: `print_no` is the print it is about, `kind` how it came to be sent."""

    print_no: int
    kind: str
    story: str
    photo: bytes | None = None
    link: str = ""
    name: str = ""
    email: str = ""
    handle: str = ""
    machine: str = ""
    material: str = ""


@dataclass
class _Maker:
    """A print and its person while the desk is made."""

    number: int
    rng: np.random.Generator
    scene: str
    color: str
    seed: int
    sign: int
    sent: Sent
    picture: Image.Image = field(repr=False)


Again = Callable[[_Maker], Sent]


def make_desk(prints: int, *, seed: int) -> list[Sent]:
    """Return what reaches the desk about so many prints, in a random order."""
    rng = np.random.default_rng(seed)
    makers = [_first(number, rng) for number in range(prints)]
    found: list[Sent] = []
    kinds = list(AGAIN)
    for maker in makers:
        if maker.number % 3 != 2:  # two of three prints are sent twice
            kind = kinds[len(found) % len(kinds)]
            found.append(replace(AGAIN[kind](maker), kind=kind))
    for place, maker in enumerate(makers):
        kind = list(SIMILAR)[place % len(SIMILAR)]
        found.append(replace(SIMILAR[kind](maker), print_no=prints + place, kind=kind))
    found += [maker.sent for maker in makers]
    order = rng.permutation(len(found))
    return [found[place] for place in order]


def _first(number: int, rng: np.random.Generator) -> _Maker:
    """Return a print as it is reported first."""
    scene = sorted(SCENES)[int(rng.integers(len(SCENES)))]
    color = sorted(COLORS)[int(rng.integers(len(COLORS)))]
    seed = int(rng.integers(1, 10**6))
    sign = int(rng.integers(len(SIGNS)))
    picture = render_photo(scene, seed=seed, color=color, size=SIZE)
    name, email, handle = _person(rng)
    has_handle = rng.random() < 0.3
    sent = Sent(
        print_no=number,
        kind="first",
        story=_story(rng, sign),
        photo=_file(picture, 88),
        link=_link(rng) if rng.random() < 0.4 else "",
        name=name,
        email="" if has_handle else email,
        handle=handle if has_handle else "",
        machine=_pick(rng, MACHINES),
        material=_pick(rng, MATERIALS),
    )
    return _Maker(number, rng, scene, color, seed, sign, sent, picture)


def _stranger(maker: _Maker, story: str, photo: Image.Image | None, quality: int = 80) -> Sent:
    """Return something a stranger sends of a print; few of them know the printer."""
    name, email, _ = _person(maker.rng)
    knows = maker.rng.random() < 0.3
    return Sent(
        print_no=maker.number,
        kind="",
        story=story,
        photo=_file(photo, quality) if photo else None,
        name=name,
        email=email,
        machine=maker.sent.machine if knows else "",
        material=maker.sent.material if knows else "",
    )


def _compressed(maker: _Maker) -> Sent:
    scale = maker.rng.uniform(0.4, 0.9)
    small = maker.picture.resize([round(side * scale) for side in SIZE])
    quality = int(maker.rng.integers(25, 70))
    return _stranger(maker, _pick(maker.rng, PASSED_ON), small, quality)


def _cropped(maker: _Maker) -> Sent:
    return _stranger(maker, _pick(maker.rng, PASSED_ON), _cut(maker.picture, maker.rng, 0.6, 0.92))


def _brightened(maker: _Maker) -> Sent:
    picture = ImageEnhance.Brightness(maker.picture).enhance(maker.rng.uniform(0.7, 1.35))
    picture = ImageEnhance.Contrast(picture).enhance(maker.rng.uniform(0.85, 1.2))
    return _stranger(maker, _pick(maker.rng, PASSED_ON), picture)


def _turned(maker: _Maker) -> Sent:
    turn = maker.rng.uniform(0.5, 3.0) * maker.rng.choice([-1, 1])
    picture = maker.picture.rotate(turn, Image.Resampling.BICUBIC)
    edge = round(0.06 * SIZE[0])
    picture = picture.crop((edge, edge, SIZE[0] - edge, SIZE[1] - edge))
    return _stranger(maker, _pick(maker.rng, PASSED_ON), picture)


def _drawn_on(maker: _Maker) -> Sent:
    picture = maker.picture.copy()
    x, y = maker.rng.uniform(0.3, 0.6, 2) * SIZE
    draw = ImageDraw.Draw(picture)
    draw.ellipse((x, y, x + 70, y + 60), outline=(220, 20, 20), width=5)
    draw.line((x + 150, y + 130, x + 66, y + 54), fill=(220, 20, 20), width=5)
    return _stranger(maker, _pick(maker.rng, PASSED_ON), picture)


def _reshot(maker: _Maker) -> Image.Image:
    """Return the print in another light, from a little elsewhere."""
    picture = render_photo(maker.scene, seed=maker.seed + 7, color=maker.color, size=SIZE)
    return ImageEnhance.Brightness(picture).enhance(maker.rng.uniform(0.8, 1.2))


def _reshot_by_stranger(maker: _Maker) -> Sent:
    return _stranger(maker, _story(maker.rng, maker.sign), _reshot(maker))


def _reshot_by_same(maker: _Maker) -> Sent:
    return replace(maker.sent, story=_retold(maker), photo=_file(_reshot(maker), 85), link="")


def _copied_words(maker: _Maker) -> Sent:
    wrapped = _pick(maker.rng, WRAPS).format(text=maker.sent.story)
    return _stranger(maker, wrapped, None)


def _same_link(maker: _Maker) -> Sent:
    link = maker.sent.link or _link(maker.rng)
    if not maker.sent.link:  # the first report came with the link, too
        maker.sent = replace(maker.sent, link=link)
    changed = link.replace("https://", "https://m.") + "?utm_source=list&fbclid=Qx81"
    return replace(_stranger(maker, _pick(maker.rng, PASSED_ON), None), link=changed)


def _told_again(maker: _Maker) -> Sent:
    return replace(maker.sent, story=_retold(maker), photo=None, link="")


AGAIN: Mapping[str, Again] = {
    "compressed": _compressed,
    "cropped": _cropped,
    "brightened": _brightened,
    "turned": _turned,
    "drawn on": _drawn_on,
    "re-shot by the same person": _reshot_by_same,
    "re-shot by somebody else": _reshot_by_stranger,
    "copied words": _copied_words,
    "same link": _same_link,
    "told again by the same person": _told_again,
}


def _other_colour(maker: _Maker) -> Sent:
    others = sorted(set(COLORS) - {maker.color})
    picture = render_photo(
        maker.scene, seed=maker.seed + 3, color=_pick(maker.rng, others), size=SIZE
    )
    return replace(
        _stranger(maker, _story(maker.rng, maker.sign), picture), machine=maker.sent.machine
    )


def _same_words(maker: _Maker) -> Sent:
    scene = _pick(maker.rng, sorted(set(SCENES) - {maker.scene}))
    picture = render_photo(scene, seed=maker.seed, color=maker.color, size=SIZE)
    found = _stranger(maker, _story(maker.rng, maker.sign), picture)
    return replace(found, machine=maker.sent.machine, material=maker.sent.material)


def _next_print(maker: _Maker) -> Sent:
    """Return another print of the same person, before the same camera and on the same plate."""
    scene = _pick(maker.rng, sorted(set(SCENES) - {maker.scene}))
    other = render_photo(scene, seed=maker.seed + 1, color=maker.color, size=SIZE)
    mask = Image.new("L", SIZE, 0)
    ImageDraw.Draw(mask).ellipse((110, 60, 370, 310), fill=255)
    mask = mask.filter(ImageFilter.GaussianBlur(10))
    picture = Image.composite(other, maker.picture, mask)
    sign = (maker.sign + int(maker.rng.integers(1, len(SIGNS)))) % len(SIGNS)
    return replace(maker.sent, story=_story(maker.rng, sign), photo=_file(picture, 85), link="")


def _same_fault_later(maker: _Maker) -> Sent:
    scene = _pick(maker.rng, sorted(set(SCENES) - {maker.scene}))
    picture = render_photo(scene, seed=maker.seed + 2, color=maker.color, size=SIZE)
    return replace(
        maker.sent, story=_story(maker.rng, maker.sign), photo=_file(picture, 85), link=""
    )


SIMILAR: Mapping[str, Again] = {
    "another colour of the same model": _other_colour,
    "the same fault and printer of a stranger": _same_words,
    "the next print before the same camera": _next_print,
    "the same fault of the same person": _same_fault_later,
}


def _story(rng: np.random.Generator, sign: int) -> str:
    """Return a report of a fault in one of many wordings."""
    about = f"I printed a {_pick(rng, OBJECTS)} and {_pick(rng, SIGNS[sign])}"
    when = _pick(rng, WHEN).format(n=int(rng.integers(3, 96)))
    tried = [_pick(rng, TRIED).format(n=int(rng.integers(20, 99))) for _ in range(2)]
    parts = [f"{about} {when}.", *(f"{each[0].upper()}{each[1:]}." for each in tried)]
    if rng.random() < 0.6:
        parts.append(_pick(rng, CHAT))
    return " ".join(parts)


def _retold(maker: _Maker) -> str:
    """Return the same person's words for the same print, written a second time."""
    rng = maker.rng
    sentences = [each.rstrip(".?") for each in maker.sent.story.split(". ")]
    first = sentences[0]
    for said in SIGNS[maker.sign]:
        if said in first and rng.random() < 0.5:
            first = first.replace(said, _pick(rng, SIGNS[maker.sign]))
    kept = [first, *(each for each in sentences[1:] if rng.random() < 0.6)]
    return f"{_pick(rng, CHAT)} {'. '.join(kept)}. I sent this before by another way."


def _person(rng: np.random.Generator) -> tuple[str, str, str]:
    first, last = _pick(rng, FIRST), _pick(rng, LAST)
    number = int(rng.integers(1, 10_000))
    email = f"{first}.{last}{number}@{_pick(rng, PLACES)}.example".lower()
    return f"{first} {last}", email, f"{first.lower()}_{number}"


def _link(rng: np.random.Generator) -> str:
    return f"https://{_pick(rng, PLACES)}.example/post/{int(rng.integers(10**6, 10**7))}"


def _pick(rng: np.random.Generator, choices: Sequence[T]) -> T:
    return choices[int(rng.integers(len(choices)))]


def _cut(picture: Image.Image, rng: np.random.Generator, low: float, high: float) -> Image.Image:
    width, height = (round(side * rng.uniform(low, high)) for side in picture.size)
    left = int(rng.integers(picture.width - width + 1))
    top = int(rng.integers(picture.height - height + 1))
    return picture.crop((left, top, left + width, top + height))


def _file(picture: Image.Image, quality: int) -> bytes:
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=quality)
    return out.getvalue()
