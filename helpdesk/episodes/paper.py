"""The run sheet as a PDF, with names in Latin, Greek and Cyrillic letters.

A PDF brings its own letters along. Those every reader has cover western European names alone, so
the letters come from a package of fonts; what it lacks is printed as a box and said at the foot.
"""

import datetime
import io
import unicodedata
from functools import cache
from importlib.resources import files
from typing import Any
from xml.sax.saxutils import escape

from django.utils import timezone
from reportlab.lib import colors
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Flowable, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

from helpdesk.core.templatetags.desk import length_s
from helpdesk.episodes.sheets import RunSheet, SheetRow
from helpdesk.episodes.timing import PartTime, SheetTime

PLAIN, BOLD = "Sheet", "Sheet-Bold"
FONT_FILES = {PLAIN: "Roboto-Regular.ttf", BOLD: "Roboto-Bold.ttf"}
BOX = "\u25a1"
LACKING = "Letters this page cannot print stand as boxes; the sheet on the screen has them."
MARGIN = 12 * mm
COLUMNS = [9 * mm, 82 * mm, 22 * mm, 14 * mm, 17 * mm, 17 * mm, 20 * mm]
HEADER = ("No.", "Slug and what to say", "Who", "Length", "Front", "Back", "Over or under")
SMALL_PT, LEADING_PT = 8.0, 9.6
CLOCK = "%H:%M:%S"


def write_pdf(sheet: RunSheet, *, show_name: str) -> bytes:
    """Return a run sheet as a PDF for A4 paper."""
    _register_fonts()
    episode = sheet.episode
    target = io.BytesIO()
    document = SimpleDocTemplate(
        target,
        pagesize=A4,
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=MARGIN,
        bottomMargin=MARGIN + 4 * mm,
        title=f"{show_name} {episode.number}: {episode.title}",
        author=show_name,
        subject="Run sheet",
        lang="en-GB",
    )
    story: list[Flowable] = [
        Paragraph(_text(f"{show_name} {episode.number}: {episode.title}"), _style(15, BOLD, 18)),
        Paragraph(_text(_summary(sheet)), _style(9, PLAIN, 12)),
        Spacer(0, 3 * mm),
        _table(sheet),
    ]
    footer = _Footer(f"Run sheet of episode {episode.number}", lacks=_lacks_letters(sheet))
    document.build(story, onFirstPage=footer, onLaterPages=footer)
    return target.getvalue()


class _Footer:
    """Draws the foot of every page."""

    def __init__(self, name: str, *, lacks: bool) -> None:
        self.words = f"{LACKING} " if lacks else ""
        self.name = name

    def __call__(self, canvas: Any, document: Any) -> None:
        """Draw the name and the page's number."""
        canvas.saveState()
        canvas.setFont(PLAIN, SMALL_PT)
        canvas.drawString(MARGIN, MARGIN, f"{self.words}{self.name}, page {document.page}")
        canvas.restoreState()


@cache
def _register_fonts() -> None:
    """Make the letters known to the writer of PDFs, once in a process."""
    folder = files("font_roboto") / "files"
    for name, file in FONT_FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(folder / file)))
    pdfmetrics.registerFontFamily(PLAIN, normal=PLAIN, bold=BOLD, italic=PLAIN, boldItalic=BOLD)


@cache
def _letters() -> frozenset[str]:
    """Return the characters that can be printed."""
    face = pdfmetrics.getFont(PLAIN).face
    return frozenset(chr(code) for code in face.charToGlyph)


def _printable(text: str) -> str:
    """Return a text in composed letters, with a box for each that cannot be printed."""
    box = BOX if BOX in _letters() else "?"
    composed = unicodedata.normalize("NFC", text)
    return "".join(c if c in _letters() or c.isspace() else box for c in composed)


def _lacks_letters(sheet: RunSheet) -> bool:
    """Return True when something on the sheet cannot be printed."""
    texts = [text for row in sheet.rows for text in (row.segment.slug, row.credit, *_lines(row))]
    return any(_printable(t) != unicodedata.normalize("NFC", t) for t in texts)


def _text(text: str) -> str:
    """Return a text as a paragraph takes it: printable, and none of it taken for markup."""
    return escape(_printable(" ".join(text.split())))


def _style(size_pt: float, font: str = PLAIN, leading_pt: float = LEADING_PT) -> ParagraphStyle:
    """Return how a paragraph looks."""
    # Long words, such as addresses, break anywhere rather than run off the paper.
    return ParagraphStyle(
        f"{font}-{size_pt}", fontName=font, fontSize=size_pt, leading=leading_pt, splitLongWords=1
    )


def _summary(sheet: RunSheet) -> str:
    """Return the line under the heading: when, how long, how fast."""
    episode = sheet.episode
    starts = timezone.localtime(episode.starts_at)
    rates = "".join(f"; {name} {rate.words_per_minute}" for name, rate in sheet.measured)
    return (
        f"{starts:%A} {starts.day} {starts:%B %Y}, {starts:{CLOCK}} to {_clock(sheet.hard_end)} · "
        f"planned {length_s(sheet.time.total_s)} · {over_words(sheet.time)} · "
        f"{episode.words_per_minute} words a minute{rates}"
    )


def over_words(time: PartTime | SheetTime) -> str:
    """Return seconds over or under with sign and word."""
    if time.over_s > 0:
        return f"+{length_s(time.over_s)} over"
    return f"{length_s(time.over_s)} under" if time.over_s < 0 else "to time"


def _table(sheet: RunSheet) -> Table:
    """Return the parts as a table whose head stands on every page."""
    head = _style(SMALL_PT, BOLD)
    rows: list[list[Any]] = [[Paragraph(_text(word), head) for word in HEADER]]
    rows += [_cells(row) for row in sheet.rows]
    plain = _style(SMALL_PT, BOLD)
    rows.append(
        [
            "",
            Paragraph("Hard end", plain),
            "",
            Paragraph(length_s(sheet.time.total_s), plain),
            Paragraph(_clock(sheet.time.ends_at), plain),
            Paragraph(_clock(sheet.hard_end), plain),
            Paragraph(_text(over_words(sheet.time)), plain),
        ]
    )
    table = Table(rows, colWidths=COLUMNS, repeatRows=1, splitInRow=1, hAlign="LEFT")
    table.setStyle(
        TableStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LINEBELOW", (0, 0), (-1, -1), 0.4, colors.grey),
                ("LINEBELOW", (0, 0), (-1, 0), 1, colors.black),
                ("LEFTPADDING", (0, 0), (-1, -1), 2),
                ("RIGHTPADDING", (0, 0), (-1, -1), 2),
                ("TOPPADDING", (0, 0), (-1, -1), 2),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
            ]
        )
    )
    return table


def _cells(row: SheetRow) -> list[Any]:
    """Return one part's cells."""
    segment = row.segment
    kind = segment.kind_name + (f" {segment.case_id}" if segment.case_id else "")
    if segment.hit_at:
        kind += f" · must start at {_clock(segment.hit_at)}"
    words: list[Any] = [
        Paragraph(f"<b>{_text(segment.slug)}</b> · {_text(kind)}", _style(SMALL_PT)),
        *(Paragraph(_text(line), _style(SMALL_PT)) for line in _lines(row)),
    ]
    return [
        Paragraph(str(row.place), _style(SMALL_PT, BOLD)),
        words,
        Paragraph(_text(segment.presenter), _style(SMALL_PT)),
        Paragraph(length_s(row.seconds), _style(SMALL_PT)),
        Paragraph(_clock(row.time.front), _style(SMALL_PT)),
        Paragraph(_clock(row.time.back), _style(SMALL_PT)),
        Paragraph(_text(over_words(row.time)), _style(SMALL_PT)),
    ]


def _lines(row: SheetRow) -> list[str]:
    """Return what stands under a part's slug: first what stops it, then what is said."""
    segment = row.segment
    stops = [f"Do not show. {row.do_not_show}"] if row.do_not_show else []
    if not stops and row.is_blocked:
        stops = [f"Blocked. {' '.join(row.blocks)}"]
    asks = [f"Ask: {segment.audience_question}"] if segment.audience_question else []
    return [
        *stops,
        *(f"Say aloud: {caution}" for caution in row.cautions),
        *(f"{m.kind.capitalize()} on {m.subject}: {m.text}" for m in row.mentions),
        *(f"– {point}" for point in row.points),
        *([row.opening] if row.opening and not row.points else []),
        *asks,
        *([row.credit] if row.credit else []),
    ]


def _clock(moment: datetime.datetime) -> str:
    """Return a moment as a clock time of the desk."""
    return timezone.localtime(moment).strftime(CLOCK)
