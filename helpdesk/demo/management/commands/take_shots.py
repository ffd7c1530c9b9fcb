"""Photograph every page of a prepared demo."""

import importlib
import shutil
from argparse import ArgumentParser
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse

from helpdesk.demo.accounts import demo_password
from helpdesk.demo.serving import find_free_port, serving
from helpdesk.demo.shots import (
    README_SHOTS,
    WIDTHS,
    NoDemoError,
    Shot,
    list_shots,
    pick,
    save_small,
)

BROWSERS = ("chromium", "chromium-browser", "google-chrome")
HEIGHT = 900
README_FOLDER = "docs/shots"
WALK_DOWN = """async () => {
  for (let y = 0; y < document.body.scrollHeight; y += 400) {
    scrollTo(0, y);
    await new Promise(requestAnimationFrame);
  }
}"""


class Command(BaseCommand):
    """Start the site on a free port, open each page in a browser, save what is seen."""

    help = "Photograph every page of the demo at phone and desk width; tell of errors in the pages."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Declare where to, which pages, light or dark."""
        parser.add_argument("--out", help="folder to write to; else shots/ beside the desk's data")
        parser.add_argument("--only", nargs="+", default=[], metavar="PAGE", help="these pages")
        parser.add_argument("--dark", action="store_true", help="with a dark colour scheme too")
        parser.add_argument(
            "--readme", action="store_true", help=f"only the small ones kept in {README_FOLDER}"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Take the shots."""
        try:
            shots = list_shots()
        except NoDemoError as error:
            raise CommandError(str(error)) from error
        is_readme = options["readme"]
        names = {name for name, _ in README_SHOTS} if is_readme else set(options["only"])
        shots = pick(shots, lambda name: not names or name in names)
        base = Path(settings.BASE_DIR) / README_FOLDER
        out = Path(options["out"] or (base if is_readme else Path(settings.DATA_DIR) / "shots"))
        out.mkdir(parents=True, exist_ok=True)
        schemes = ["light", "dark"] if options["dark"] else ["light"]
        port = find_free_port()
        # The password is read before the browser starts: its event loop keeps the database away.
        camera = Camera(out=out, password=demo_password(), is_readme=is_readme)
        troubles = 0
        with serving(port, {"PRINTWARD_PORT": str(port)}) as address, open_browser() as browser:
            for scheme in schemes:
                for width in WIDTHS:
                    for name, words in camera.take(browser, address, shots, width, scheme):
                        troubles += len(words)
                        self.stdout.write(f"{name}: " + ("; ".join(words) or "no errors"))
        self.stdout.write(f"{troubles} errors; the pictures are in {out}")
        if troubles:
            raise CommandError("Some pages have errors.", returncode=1)


class Camera:
    """Opens pages in a browser and saves what is seen."""

    def __init__(self, *, out: Path, password: str, is_readme: bool) -> None:
        """Keep where pictures go and how to log in."""
        self.out = out
        self.password = password
        self.is_readme = is_readme

    def take(
        self, browser: Any, address: str, shots: Sequence[Shot], width: int, scheme: str
    ) -> Iterator[tuple[str, list[str]]]:
        """Save each page at one width; yield the picture's name and what went wrong."""
        for who in dict.fromkeys(shot.who for shot in shots):
            context = browser.new_context(
                base_url=address,
                viewport={"width": width, "height": HEIGHT},
                color_scheme=scheme,
                reduced_motion="reduce",
            )
            if who:
                self._log_in(context, who)
            for shot in shots:
                if shot.who == who and self._is_wanted(shot, width):
                    ending = "" if scheme == "light" else f"-{scheme}"
                    name = f"{shot.name}-{width}{ending}.png"
                    yield name, self._take_one(context, shot, self.out / name)
            context.close()

    def _is_wanted(self, shot: Shot, width: int) -> bool:
        return not self.is_readme or (shot.name, width) in README_SHOTS

    def _log_in(self, context: Any, who: str) -> None:
        page = context.new_page()
        page.goto(reverse("accounts:login"))
        page.fill("[name=username]", who)
        page.fill("[name=password]", self.password)
        page.locator("main form button[type=submit]").click()
        page.wait_for_url("**/queue")
        page.close()

    def _take_one(self, context: Any, shot: Shot, path: Path) -> list[str]:
        """Save one page; return its errors in words."""
        page = context.new_page()
        errors: list[str] = []
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on("console", lambda said: errors.append(said.text) if said.type == "error" else None)
        page.goto(shot.address)
        if shot.press:
            page.locator(shot.press).click()
        # Panels that load when they come into view: walk down the page once.
        page.evaluate(WALK_DOWN)
        page.wait_for_load_state("networkidle")
        page.evaluate("window.scrollTo(0, 0)")
        wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        if wide > 0:
            errors.append(f"the page is {wide} px wider than the window")
        picture = page.screenshot(full_page=True)
        if self.is_readme:
            save_small(picture, path)
        else:
            path.write_bytes(picture)
        page.close()
        return [words for words in errors if not _is_expected(words, shot)]


def _is_expected(words: str, shot: Shot) -> bool:
    """Return True for what a browser says of an answer that is meant to be a refusal."""
    refused = {
        "missing": "404",
        "tracking_missing": "404",
        "refused": "403",
        "report_refused": "422",
    }
    return f"status of {refused.get(shot.name, 'nothing')}" in words


@contextmanager
def open_browser() -> Iterator[Any]:
    """Give a headless browser; says what is missing when there is none."""
    try:
        playwright = importlib.import_module("playwright.sync_api")
    except ImportError as error:
        raise CommandError(
            "The browser driver is a test extra: pip install -e '.[test]' brings it."
        ) from error
    program = next(filter(None, map(shutil.which, BROWSERS)), None)
    if program is None:
        raise CommandError(f"No browser is there; one of these would do: {', '.join(BROWSERS)}.")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=["--no-sandbox"])
        try:
            yield browser
        finally:
            browser.close()
