"""Measure a report with six photos of 12 megapixels: time to take it, memory to prepare it.

Run `python tests/benchmarks/bench_report.py`. It works in a folder of its own and prints figures;
it exits with 1 when one is over its limit.
"""

import argparse
import io
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

ROOT = Path(__file__).resolve().parents[2]
PHOTOS = 6
SIZE = (4000, 3000)
LIMIT_S = 3.0  # server time to take the report
LIMIT_MB = 400  # peak memory of the worker
FORMATS = {"jpeg": ("JPEG", {"quality": 92}), "heic": ("HEIF", {"quality": 60})}


def draw_photo(seed: int, format_name: str, size: tuple[int, int]) -> bytes:
    """Return a picture with a photograph's detail and weight."""
    noise = np.random.default_rng(seed)
    width, height = size
    coarse = Image.fromarray(noise.integers(0, 255, (height // 40, width // 40, 3), dtype=np.uint8))
    fine = Image.fromarray(noise.integers(0, 255, (height // 4, width // 4, 3), dtype=np.uint8))
    picture = Image.blend(coarse.resize(size), fine.resize(size), 0.25)
    out = io.BytesIO()
    kind, options = FORMATS[format_name]
    picture.save(out, kind, **options)
    return out.getvalue()


def set_up() -> None:
    """Start Django on the folder named in the environment."""
    sys.path.insert(0, str(ROOT))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "helpdesk.config.settings.dev")
    import django  # noqa: PLC0415 - the environment comes first

    django.setup()


def peak_mb() -> float:
    """Return the most memory this process has held, on Linux.

    Not getrusage: its figure is handed on to a child, which would report its parent's peak.
    """
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmHWM:"):
            return float(line.split()[1]) / 1024
    raise LookupError("No peak of memory in /proc/self/status.")


def take_report(folder: Path) -> None:
    """Post one report with the photos of a folder and print time and memory."""
    set_up()
    from django.test import Client  # noqa: PLC0415 - needs settings

    fields: dict[str, Any] = {
        "draft_key": "benchmark-draft-key-0001",
        "story": "The top of my rook moved to the left at about 43 mm.",
        "whose": "own",
        "answer_by": "mail",
        "email": "bettine@tarnstreet.example",
    }
    client = Client(headers={"host": "127.0.0.1"})
    client.get("/report")  # loads templates, as on any desk that runs
    with open_all(folder) as files:
        started = time.perf_counter()
        response = client.post("/report", fields | {"photos": files})
        taken_s = time.perf_counter() - started
    print(response.status_code, f"{taken_s:.3f}", f"{peak_mb():.0f}")  # noqa: T201


def prepare() -> None:
    """Do the waiting jobs as a worker does and print time and memory."""
    set_up()
    from helpdesk.core.jobs import run_due_jobs  # noqa: PLC0415 - needs settings
    from helpdesk.photos.models import Photo, PhotoState  # noqa: PLC0415 - needs settings

    started = time.perf_counter()
    run_due_jobs()
    ready = Photo.objects.filter(state=PhotoState.READY).count()
    print(ready, f"{time.perf_counter() - started:.3f}", f"{peak_mb():.0f}")  # noqa: T201


class open_all:  # noqa: N801 - used like a function
    """Open every file of a folder for a while."""

    def __init__(self, folder: Path) -> None:
        """Keep the folder."""
        self.paths = sorted(folder.iterdir())

    def __enter__(self) -> list[Any]:
        self.files = [path.open("rb") for path in self.paths]
        return self.files

    def __exit__(self, *args: object) -> None:
        for file in self.files:
            file.close()


def run_part(part: str, folder: Path, data: Path) -> list[float]:
    """Run a part in a process of its own, so that its memory is its own; return its figures."""
    environment = os.environ | {"PRINTWARD_DATA": str(data)}
    done = subprocess.run(  # noqa: S603 - this file
        [sys.executable, __file__, "--part", part, "--photos", str(folder)],
        env=environment,
        check=True,
        capture_output=True,
        text=True,
    )
    return [float(figure) for figure in done.stdout.split()]


def measure(format_name: str, photos: int, size: tuple[int, int]) -> Iterator[tuple[str, bool]]:
    """Yield a line for each figure and whether it is within its limit."""
    with tempfile.TemporaryDirectory() as place:
        folder, data = Path(place, "photos"), Path(place, "data")
        folder.mkdir()
        weight = 0
        for number in range(photos):
            content = draw_photo(number, format_name, size)
            weight += len(content)
            (folder / f"{number}.{format_name}").write_bytes(content)
        subprocess.run(  # noqa: S603 - our own command
            [sys.executable, str(ROOT / "manage.py"), "migrate", "--verbosity", "0"],
            env=os.environ | {"PRINTWARD_DATA": str(data)},
            check=True,
        )
        what = f"{photos} {format_name.upper()} of {size[0] * size[1] / 1e6:.0f} MP"
        yield f"{what}, {weight / 1e6:.1f} MB in all", True
        status, taken_s, web_mb = run_part("take", folder, data)
        fits = status == 302 and taken_s < LIMIT_S
        yield f"  taken in {taken_s:.2f} s (limit {LIMIT_S}), site peak {web_mb:.0f} MB", fits
        ready, prepared_s, worker_mb = run_part("prepare", folder, data)
        fits = ready == photos and worker_mb < LIMIT_MB
        yield (
            f"  prepared in {prepared_s:.2f} s, worker peak {worker_mb:.0f} MB (limit {LIMIT_MB})",
            fits,
        )


def main() -> int:
    """Run the benchmark, or one part of it in a child process."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--part", choices=["take", "prepare"])
    parser.add_argument("--photos", type=Path)
    parser.add_argument("--large", action="store_true", help="also one photo of 48 MP each")
    chosen = parser.parse_args()
    if chosen.part == "take":
        take_report(chosen.photos)
        return 0
    if chosen.part == "prepare":
        prepare()
        return 0
    import pillow_heif  # noqa: PLC0415 - only the parent writes HEIC

    pillow_heif.register_heif_opener()
    rounds: list[tuple[str, int, tuple[int, int]]] = [
        ("jpeg", PHOTOS, SIZE),
        ("heic", PHOTOS, SIZE),
    ]
    if chosen.large:
        rounds += [("jpeg", 1, (8000, 6000)), ("heic", 1, (8000, 6000))]
    is_fine = True
    for settings in rounds:
        for line, fits in measure(*settings):
            print(line if fits else f"{line}  OVER")  # noqa: T201
            is_fine = is_fine and fits
    return 0 if is_fine else 1


if __name__ == "__main__":
    sys.exit(main())
