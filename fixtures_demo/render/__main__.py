"""Draw one photo: ``python -m fixtures_demo.render SCENE OUT.png``."""

from __future__ import annotations

import argparse
from pathlib import Path

from fixtures_demo.render import COLORS, SCENES, describe, render_photo
from fixtures_demo.render.scene_kit import MATERIALS


def main() -> None:
    """Draw the photo that the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m fixtures_demo.render", description=__doc__)
    parser.add_argument("scene", choices=sorted(SCENES), metavar="SCENE")
    parser.add_argument("out", type=Path, metavar="OUT.png")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--view", default="whole")
    parser.add_argument("--color", choices=sorted(COLORS), default="teal")
    parser.add_argument("--material", choices=sorted(MATERIALS), default="matt")
    ask = parser.parse_args()
    try:
        words = describe(ask.scene, ask.view, ask.color)
    except ValueError as error:
        parser.error(str(error))
    picture = render_photo(
        ask.scene, seed=ask.seed, view=ask.view, color=ask.color, material=ask.material
    )
    picture.save(ask.out)
    parser.exit(message=f"{words}\n")


if __name__ == "__main__":
    main()
