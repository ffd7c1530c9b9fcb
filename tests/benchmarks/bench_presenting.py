"""Measure the presenter's page on this machine, in a real browser.

    python tests/benchmarks/bench_presenting.py [--minutes 1] [--switches 200] [--data FOLDER]

Prepares a demo in a temporary folder (or takes the one named), serves it, and prints how far the
page's clock is from this machine's after some minutes of real time, how far it strays over two
simulated hours, and how long a press takes until the next picture, mark or part is painted.
"""

import argparse
import os
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import django
from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from playwright.sync_api import Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
SECRET = "a-long-enough-secret-to-measure"
PROGRAMS = ("chromium", "chromium-browser", "google-chrome")
# From the press until the frame after the one that painted it has begun.
SWITCH = """async (key) => {
  const began = performance.now();
  document.body.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true }));
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  return performance.now() - began;
}"""
CLOCK = """async (address) => {
  const { ShowClock } = await import("/static/js/present_clock.js");
  window.measured = new ShowClock();
  const exchanges = [];
  for (let n = 0; n < 20; n += 1) {
    const sent = performance.now();
    const { now_ms } = await (await fetch(address, { cache: "no-store" })).json();
    exchanges.push({ sent, received: performance.now(), server_ms: now_ms });
  }
  window.measured.correct(exchanges);
}"""
# Ticks come late by up to 900 ms, the tab sleeps for 17 minutes, the computer's clock is set.
SIMULATED = """async () => {
  const { ShowClock } = await import("/static/js/present_clock.js");
  let [mono, wall] = [5000.25, 1.8e12];
  const clock = new ShowClock({ monotonic: () => mono, wall: () => wall });
  const [from, zero] = [clock.now(), mono];
  let [seed, worst, slept] = [11, 0, false];
  const random = () => (seed = (seed * 48271) % 2147483647) / 2147483647;
  while (mono - zero < 7_200_000) {
    const sleeps = !slept && mono - zero > 3_600_000;
    slept ||= sleeps;
    mono += sleeps ? 1_020_000 : 1000 + 900 * random();
    wall += (random() - 0.5) * 60_000;
    worst = Math.max(worst, Math.abs(clock.now() - from - (mono - zero)));
  }
  return worst;
}"""


def main() -> None:
    """Prepare, serve, measure, print."""
    parser = argparse.ArgumentParser(description="Measure the presenter’s page.")
    parser.add_argument("--minutes", type=float, default=1.0, help="real time the clock runs")
    parser.add_argument("--switches", type=int, default=200, help="presses to measure")
    parser.add_argument("--data", help="data folder with a prepared demo; else a temporary one")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="printward-bench-") as temporary:
        os.environ["PRINTWARD_DATA"] = options.data or temporary
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "helpdesk.config.settings.dev")
        sys.path.insert(0, str(ROOT))
        django.setup()
        number = _prepare()
        _measure(number, options.minutes, options.switches)


def _prepare() -> int:
    """Load the demo with an account and marks to measure with; returns the show's number."""
    call_command("demo", no_serve=True, stdout=sys.stderr)
    users, groups = apps.get_model("accounts.User"), apps.get_model("auth.Group")
    user, _ = users.objects.get_or_create(username="bench")
    user.set_password(SECRET)
    user.save()
    user.groups.add(groups.objects.get(name="producer"))
    episode = apps.get_model("episodes.Episode").objects.filter(state="making").earliest("number")
    marks = apps.get_model("presenting.PictureMark")
    shown = apps.get_model("episodes.ShownPicture").objects.filter(segment__episode=episode)
    for picture in shown:
        for position, shape in enumerate(("ring", "arrow"), 1):
            marks.objects.get_or_create(
                photo_id=picture.photo_id,
                position=position,
                defaults={
                    "shape": shape,
                    "x1_pct": 30,
                    "y1_pct": 30,
                    "x2_pct": 60,
                    "y2_pct": 60,
                    "words": "Here",
                },
            )
    return int(episode.number)


def _measure(number: int, minutes: float, switches: int) -> None:
    """Serve the desk, open the page and print the figures."""
    # Settings must stand before these are imported.
    from helpdesk.demo.serving import find_free_port, serving  # noqa: PLC0415

    port = find_free_port()
    environment = {
        "DJANGO_SETTINGS_MODULE": os.environ["DJANGO_SETTINGS_MODULE"],
        "PRINTWARD_DATA": str(settings.DATA_DIR),
        "PRINTWARD_PORT": str(port),
    }
    program = next(filter(None, map(shutil.which, PROGRAMS)), None)
    with serving(port, environment), sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=["--no-sandbox"])
        size: Any = {"width": 1920, "height": 1080}
        page = browser.new_context(base_url=f"http://127.0.0.1:{port}", viewport=size).new_page()
        page.set_default_timeout(60_000)
        page.goto("/accounts/login")
        page.fill("[name=username]", "bench")
        page.fill("[name=password]", SECRET)
        page.locator("main form button[type=submit]").click()
        page.wait_for_url("**/queue")
        page.goto(f"/episodes/{number}/present")
        page.wait_for_selector("#live[data-ready]")
        _print(page.inner_text("[data-at=ready]"))
        _time_switches(page, switches)
        _time_clock(page, number, minutes)
        _print(f"clock over two simulated hours: {page.evaluate(SIMULATED):.6f} ms at most")
        browser.close()


def _time_switches(page: Page, switches: int) -> None:
    """Print how long presses take, forth through the show and back."""
    times = [
        page.evaluate(SWITCH, "PageDown" if n // 20 % 2 == 0 else "PageUp") for n in range(switches)
    ]
    ranks = statistics.quantiles(times, n=20)
    _print(
        f"view switch, {switches} presses: {statistics.median(times):.1f} ms median, "
        f"{ranks[-1]:.1f} ms 95th percentile, {max(times):.1f} ms slowest"
    )


def _time_clock(page: Page, number: int, minutes: float) -> None:
    """Print how far the page's clock goes from this machine's in real time."""
    page.evaluate(CLOCK, f"/episodes/{number}/present/time")
    before_ms = _offset_ms(page)
    time.sleep(minutes * 60)
    after_ms = _offset_ms(page)
    _print(
        f"clock over {minutes:g} min of real time: {after_ms - before_ms:+.2f} ms drift, "
        f"{after_ms:+.2f} ms from this machine’s clock"
    )


def _offset_ms(page: Page) -> float:
    """Return how far the page's clock is ahead, by the fastest of some looks."""
    looks = []
    for _ in range(40):
        sent = time.time()
        shown_ms = page.evaluate("window.measured.now()")
        received = time.time()
        looks.append((received - sent, shown_ms - (sent + received) / 2 * 1000))
    return float(min(looks)[1])


def _print(words: str) -> None:
    print(words, flush=True)  # noqa: T201 - a command


if __name__ == "__main__":
    main()
