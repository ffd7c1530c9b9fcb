"""Bring captions into the archive: ``python manage.py import_captions FILE --episode N``."""

import csv
import datetime
import json
import re
import sys
from argparse import ArgumentParser
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn

from django.core.management.base import BaseCommand

from helpdesk.archive.corrections import say_s
from helpdesk.archive.errors import CaptionsRefusedError
from helpdesk.archive.models import ArchiveSegment
from helpdesk.archive.naming import number_from_name
from helpdesk.archive.services import Imported, ShowFacts, check_size, import_captions

REFUSED, USAGE = 1, 2
ENDINGS = (".vtt", ".srt")


@dataclass(frozen=True)
class Wanted:
    """A file to be brought in, its number where that was said, and what was said of the show."""

    path: Path
    number: int | None = None
    facts: ShowFacts = field(default_factory=ShowFacts)


class Command(BaseCommand):
    """Read captions, cut them into segments, and print these."""

    help = (
        "Reads WebVTT or SubRip files, cuts each show into segments and makes every word of it "
        "searchable. The same file again changes nothing; a new version takes the place of the old "
        "one and keeps what was corrected. Exit status 1 when a file was refused, 2 when the "
        "command was not understood."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take files, a folder or a list, and what is known of the show."""
        parser.add_argument("files", nargs="*", metavar="FILE", help="WebVTT or SubRip")
        parser.add_argument("--episode", type=int, metavar="N", help="the number, for one FILE")
        parser.add_argument("--folder", metavar="DIR", help="all .vtt and .srt files of a folder")
        parser.add_argument("--pattern", help="regular expression: its first group is the number")
        parser.add_argument(
            "--csv", metavar="LIST", help="columns file and episode; title, date and link at will"
        )
        parser.add_argument("--title", default="", help="of the show, for one FILE")
        parser.add_argument("--date", default="", help="of the show, as 2024-03-07, for one FILE")
        parser.add_argument("--link", default="", help="to the recording, for one FILE")
        parser.add_argument("--json", action="store_true", help="one JSON list of all segments")

    def handle(self, *args: Any, **options: Any) -> None:
        """Import and exit with the status the help names."""
        pattern = self._pattern(options["pattern"])
        wanted = list(self._wanted(options))
        if not wanted:
            self._fail("Name a file, a --folder that holds some, or a --csv that lists some.")
        is_refused = False
        found: list[dict[str, Any]] = []
        for each in wanted:
            try:
                done = self._import(each, pattern)
            except (CaptionsRefusedError, OSError) as error:
                self.stderr.write(f"{each.path}: refused: {error}")
                is_refused = True
                continue
            segments = [_plain(done, segment) for segment in _segments(done)]
            found += segments
            if not options["json"]:
                self._print(each, done, segments)
            for remark in done.show.captions.remarks if done.what != "unchanged" else ():
                self.stderr.write(f"{each.path}: {remark}")
        if options["json"]:
            self.stdout.write(json.dumps(found, ensure_ascii=False, indent=2))
        if is_refused:
            sys.exit(REFUSED)

    def _import(self, wanted: Wanted, pattern: re.Pattern[str] | None) -> Imported:
        """Import one file; a huge one is refused before it is read."""
        check_size(wanted.path.stat().st_size)
        number = wanted.number
        if number is None:
            number = number_from_name(wanted.path.name, pattern)
        raw = wanted.path.read_bytes()
        return import_captions(raw, number=number, label=wanted.path.name, facts=wanted.facts)

    def _print(self, wanted: Wanted, done: Imported, segments: list[dict[str, Any]]) -> None:
        """Print a show's segments, one a line."""
        words = f"{len(segments)} segments, {done.what}"
        self.stdout.write(f"{wanted.path}: episode {done.show.number}, {words}")
        for segment in segments:
            times = f"{say_s(segment['start']):>8} – {say_s(segment['end']):<8}"
            self.stdout.write(f"  {times} {segment['kind']:<6}  {segment['title']}")
            said = [f"{f['name']} {f['probability']:.0%}" for f in segment["faults"]]
            more = [f"case {segment['case']}"] if segment["case"] else []
            more += [f"suspected: {', '.join(said)}"] if said else []
            if more:
                self.stdout.write(f"{'':30}{'; '.join(more)}")

    def _wanted(self, options: Mapping[str, Any]) -> Iterator[Wanted]:
        """Yield the files that were named, one way or another."""
        facts = ShowFacts(
            title=options["title"], on_date=self._date(options["date"]), link=options["link"]
        )
        is_single = len(options["files"]) == 1 and not options["folder"] and not options["csv"]
        if not is_single and (options["episode"] is not None or facts != ShowFacts()):
            self._fail("--episode, --title, --date and --link go with one FILE.")
        for name in options["files"]:
            if not Path(name).is_file():
                self._fail(f"There is no file {name}.")
            yield Wanted(Path(name), options["episode"], facts)
        if options["folder"]:
            folder = Path(options["folder"])
            if not folder.is_dir():
                self._fail(f"There is no folder {folder}.")
            names = sorted(p for p in folder.iterdir() if p.suffix.lower() in ENDINGS)
            yield from (Wanted(path) for path in names)
        if options["csv"]:
            yield from self._listed(Path(options["csv"]))

    def _listed(self, path: Path) -> Iterator[Wanted]:
        """Yield the files a list names; their paths begin at the list's folder."""
        try:
            with path.open(encoding="utf-8-sig", newline="") as file:
                rows = list(csv.DictReader(file))
        except (OSError, UnicodeDecodeError, csv.Error) as error:
            self._fail(f"{path}: {error}")
        for line, row in enumerate(rows, 2):
            number = (row.get("episode") or "").strip()
            if not row.get("file") or not number.isdecimal():
                self._fail(f"{path}, line {line}: a file and the number of its episode are needed.")
            facts = ShowFacts(
                title=(row.get("title") or "").strip(),
                on_date=self._date((row.get("date") or "").strip()),
                link=(row.get("link") or "").strip(),
            )
            yield Wanted(path.parent / row["file"].strip(), int(number), facts)

    def _pattern(self, written: str | None) -> re.Pattern[str] | None:
        if not written:
            return None
        try:
            pattern = re.compile(written)
        except re.error as error:
            self._fail(f"--pattern: {error}")
        if not pattern.groups:
            self._fail("--pattern needs a group in parentheses for the number.")
        return pattern

    def _date(self, written: str) -> datetime.date | None:
        if not written:
            return None
        try:
            return datetime.date.fromisoformat(written)
        except ValueError:
            self._fail(f"“{written}” is no date such as 2024-03-07.")

    def _fail(self, words: str) -> NoReturn:
        self.stderr.write(words)
        sys.exit(USAGE)


def _segments(done: Imported) -> list[ArchiveSegment]:
    return list(done.show.segments.order_by("position"))


def _plain(done: Imported, segment: ArchiveSegment) -> dict[str, Any]:
    """Return a segment as plain values; times in seconds."""
    return {
        "episode": done.show.number,
        "start": segment.start_s,
        "end": segment.end_s,
        "kind": segment.kind,
        "title": segment.title,
        "faults": [
            {"id": fault, "name": name, "probability": probability}
            for fault, name, probability in segment.suspects or []
        ],
        "case": segment.case_id,
        "confidence": round(segment.confidence, 3),
        "is_corrected": segment.corrected_at is not None,
    }
