"""Measure the import of mail: letters a second, memory, and a second run.

    nice -n 0 .venv/bin/python tests/benchmarks/bench_mail.py --letters 10000
    .venv/bin/python tests/benchmarks/bench_mail.py --split
    .venv/bin/python tests/benchmarks/bench_mail.py --mutations 100000

The first makes an mbox of mixed letters (reports with photos and print files, replies, automatic
ones, marked-up ones), imports it twice with ``import_mail`` in processes of their own into a desk
in a new folder, and prints rate, peak memory after a tenth and at the end, and what the second run
did. The second compares the splitting of letters with the standard library's. The third reads
mutated letters and counts errors and slow ones.
"""

import argparse
import email
import io
import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from email.message import EmailMessage
from pathlib import Path

import numpy as np
from PIL import Image

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
SEED = 20_261_125
STORIES = (
    "The corners of my box curl up from the plate after an hour.",
    "The rook has holes near the top and the walls look thin.",
    "Fine hairs between the two towers, and the nozzle drags over them.",
    "The layers part at the same height each time, about 40 mm up.",
)
CODE = b"".join(b"G1 X%d Y%d E%.2f\n" % (n % 200, n // 7 % 200, n * 0.02) for n in range(4000))
SLOW_S = 1.0


def make_photos(count: int) -> list[bytes]:
    """Return so many photos of a phone's scaled size, each another file."""
    noise = np.random.default_rng(SEED)
    photos = []
    for _ in range(count):
        small = noise.integers(0, 255, (60, 80, 3), dtype=np.uint8)
        out = io.BytesIO()
        picture = Image.fromarray(small).resize((1200, 900), Image.Resampling.BICUBIC)
        picture.save(out, "JPEG", quality=80)
        photos.append(out.getvalue())
    return photos


def make_letter(number: int, chance: random.Random, photos: list[bytes]) -> bytes:
    """Return a letter of the mixture: every second has photos, every fifth a print file."""
    letter = EmailMessage()
    letter["From"] = f"Person {number} <person{number}@tarnstreet.example>"
    letter["To"] = "Printward <clinic@marrowlane.example>"
    letter["Subject"] = f"Print no. {number}"
    letter["Date"] = "Wed, 18 Nov 2026 10:30:00 +0000"
    letter["Message-ID"] = f"<{number}.bench@tarnstreet.example>"
    if number % 10 == 9:
        letter["Auto-Submitted"] = "auto-replied"
    if number % 10 == 8:  # a second letter of the one before, in its thread
        letter.replace_header(
            "From", f"Person {number - 1} <person{number - 1}@tarnstreet.example>"
        )
        letter["In-Reply-To"] = f"<{number - 1}.bench@tarnstreet.example>"
    story = f"{chance.choice(STORIES)} No. {number}.\n\n> an earlier line\n-- \nPerson {number}\n"
    letter.set_content(story)
    if number % 3 == 0:
        letter.add_alternative(f"<p>{story}</p>", subtype="html")
    if number % 2 == 0:
        # A few bytes behind the picture make each file another one.
        photo = chance.choice(photos) + number.to_bytes(4, "big")
        letter.add_attachment(photo, maintype="image", subtype="jpeg", filename="print.jpg")
    if number % 5 == 0:
        code = b"; %d\n" % number + CODE
        letter.add_attachment(code, maintype="text", subtype="x-gcode", filename="rook.gcode")
    return letter.as_bytes()


def write_mbox(path: Path, count: int) -> int:
    """Write the mixture as an mbox; return its bytes."""
    chance = random.Random(SEED)  # noqa: S311 - a repeatable mixture, not a secret
    photos = make_photos(12)
    with path.open("wb") as file:
        for number in range(count):
            lines = make_letter(number, chance, photos).replace(b"\nFrom ", b"\n>From ")
            file.write(b"From person Wed Nov 18 10:30:00 2026\n" + lines + b"\n")
    return path.stat().st_size


def peak_mb(process: "subprocess.Popen[str]") -> float:
    """Return a process' peak resident memory so far, in MB (Linux)."""
    for line in Path(f"/proc/{process.pid}/status").read_text().splitlines():
        if line.startswith("VmHWM"):
            return int(line.split()[1]) / 1024
    return 0.0


def run_import(path: Path, folder: Path, count: int) -> None:
    """Import once and print what it took."""
    # Without the limit, so that every report has its receipt.
    environment = {
        **os.environ,
        "PRINTWARD_DATA": str(folder),
        "PRINTWARD_LIMIT_MAIL_RECEIPTS": "0",
    }
    command = [sys.executable, str(ROOT / "manage.py"), "import_mail", str(path)]
    before_s = _used_s()
    start = time.perf_counter()
    process = subprocess.Popen(  # noqa: S603 - this project's own command
        command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    )
    assert process.stdout
    early = late = 0.0
    last = ""
    for number, line in enumerate(process.stdout):
        last = line.strip()
        if number == count // 10:
            early = peak_mb(process)
        if number == count - 1:
            late = peak_mb(process)
    process.wait()
    took_s = time.perf_counter() - start
    used_s = _used_s() - before_s
    _say(
        f"{took_s:.1f} s, {count / took_s:.1f} letters/s, peak {early:.0f} MB after a tenth, "
        f"{late:.0f} MB at the end, {used_s:.0f} s of processor"
    )
    _say(f"  {last}")


def measure_import(count: int) -> None:
    """Import the mixture twice into a new desk."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "desk"
        folder.mkdir()
        path = Path(place) / "letters.mbox"
        size = write_mbox(path, count)
        _say(f"{count} letters, {size / 1e6:.0f} MB")
        environment = {**os.environ, "PRINTWARD_DATA": str(folder)}
        subprocess.run(  # noqa: S603 - this project's own command
            [sys.executable, str(ROOT / "manage.py"), "migrate", "-v", "0"],
            env=environment,
            check=True,
        )
        run_import(path, folder, count)
        run_import(path, folder, count)


def measure_split() -> None:
    """Compare the time to split a letter of 10 MB with the standard library's."""
    from helpdesk.mailroom.parts import split_letter  # noqa: PLC0415 - needs the desk set up

    letter = EmailMessage()
    letter.set_content("words")
    for number in range(4):
        data = np.random.default_rng(number).bytes(2_000_000)
        letter.add_attachment(data, maintype="image", subtype="jpeg", filename=f"{number}.jpg")
    raw = letter.as_bytes()
    for name, split in (("desk", split_letter), ("library", email.message_from_bytes)):
        start = time.perf_counter()
        split(raw)
        _say(f"{name}: {(time.perf_counter() - start) * 1000:.1f} ms for {len(raw) / 1e6:.1f} MB")


def mutate(raw: bytes, chance: random.Random) -> bytes:
    """Return a letter with some bytes, lines or pieces changed, doubled, moved or cut."""
    data = bytearray(raw)
    for _ in range(chance.randint(1, 6)):
        at = chance.randrange(len(data) + 1)
        until = min(len(data), at + chance.randint(1, 200))
        what = chance.randrange(6)
        if what == 0:
            data[at:at] = chance.randbytes(chance.randint(1, 30))
        elif what == 1:
            del data[at:until]
        elif what == 2:
            data[at:at] = data[at:until] * chance.randint(1, 5)
        elif what == 3:
            data[at:at] = chance.choice(PIECES)
        elif what == 4 and at < len(data):
            data[at] ^= 1 << chance.randrange(8)
        else:
            lines = bytes(data).split(b"\n")
            chance.shuffle(lines[: chance.randint(0, 20)])
            data = bytearray(b"\n".join(lines))
    return bytes(data)


PIECES = (
    b"\r\n",
    b"\n\n",
    b"\x00",
    b"--",
    b"=?utf-8?b?",
    b"?=",
    b'Content-Type: multipart/mixed; boundary="',
    b"Content-Type: message/rfc822\n\n",
    b"Content-Transfer-Encoding: base64\n",
    b'charset="x',
    b"filename*0*=utf-8''%",
    b"From: <",
    b"@@",
    b"(((",
    b"\\",
    b'"',
    b";",
    b"\xff\xfe",
    b"</p><div>",
    b"From: \nSent: \nTo: \n",
)


def mutated(seeds: list[bytes], count: int) -> Iterator[bytes]:
    """Yield so many mutated letters, the same ones at each run."""
    chance = random.Random(SEED)  # noqa: S311 - repeatable on purpose
    for _ in range(count):
        yield mutate(chance.choice(seeds), chance)


def measure_mutations(count: int) -> int:
    """Read mutated letters; return how many failed."""
    from helpdesk.mailroom.letters import read_letter  # noqa: PLC0415 - needs the desk set up

    chance = random.Random(SEED)  # noqa: S311 - repeatable on purpose
    seeds = [make_letter(n, chance, [b"\xff\xd8\xff" + bytes(2000)])[:6000] for n in range(60)]
    took: list[float] = []
    failed = 0
    for raw in mutated(seeds, count):
        start = time.process_time()
        try:
            read_letter(raw)
        except Exception as error:  # noqa: BLE001 - what is counted here
            failed += 1
            _say(f"{type(error).__name__}: {error}")
        took.append(time.process_time() - start)
    took.sort()
    _say(
        f"{count} mutated letters: {failed} failed, 99 % within "
        f"{took[int(len(took) * 0.99)] * 1000:.1f} ms, slowest {took[-1] * 1000:.1f} ms"
    )
    return failed


def _used_s() -> float:
    """Return the processor time of finished child processes, in seconds."""
    used = os.times()
    return used.children_user + used.children_system


def _say(words: str) -> None:
    sys.stdout.write(words + "\n")
    sys.stdout.flush()


def main() -> None:
    """Do what the arguments say."""
    parser = argparse.ArgumentParser(description="Measure the import of mail.")
    parser.add_argument("--letters", type=int, default=0)
    parser.add_argument("--mutations", type=int, default=0)
    parser.add_argument("--split", action="store_true")
    given = parser.parse_args()
    if given.split or given.mutations:
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "helpdesk.config.settings.dev")
        import django  # noqa: PLC0415 - the settings are named above

        django.setup()
    if given.split:
        measure_split()
    if given.letters:
        measure_import(given.letters)
    if given.mutations and measure_mutations(given.mutations):
        sys.exit(1)


if __name__ == "__main__":
    main()
