"""The text that goes with a recording, written anew from what may be said at this moment."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from helpdesk.aftershow.chapters import Chapter, fit_list, is_case, one_line
from helpdesk.answers.advice import gather_advice
from helpdesk.answers.selectors import list_public_answers
from helpdesk.cases.models import Case
from helpdesk.episodes.featuring import list_group
from helpdesk.episodes.models import Episode
from helpdesk.episodes.real_times import ShownPart
from helpdesk.people.selectors import list_credits
from helpdesk.supply.selectors import list_mentions

LEAST_NAME_CHARS = 3  # shorter ones stand in too many words


@dataclass(frozen=True)
class Section:
    """A heading with its lines; `rank` says in which order sections go when space is short."""

    heading: str
    lines: Sequence[str]
    rank: int  # the highest goes first; 0 stays

    @property
    def text(self) -> str:
        """Return the section as it is written."""
        return "\n".join([self.heading, *self.lines] if self.heading else self.lines)


@dataclass(frozen=True)
class Written:
    """A text within a limit, and the headings that had to be left out for it."""

    text: str
    left_out: Sequence[str]
    over_chars: int  # by how much it is too long all the same


def list_answer_urls(parts: Iterable[ShownPart]) -> dict[int, str]:
    """Return the public page of each case that has one its person still agrees to."""
    cases = [part.segment.case_id for part in parts if part.segment.case_id]
    found = list_public_answers().filter(case__in=cases).order_by("sent_at", "pk")
    return {
        answer.case_id: settings.DESK_ADDRESS.rstrip("/")
        + reverse("answers:published", args=[answer.pk])
        for answer in found
    }


def write_sections(
    episode: Episode, parts: Sequence[ShownPart], chapters: Sequence[Chapter]
) -> list[Section]:
    """Return everything a description may hold, in the order it is read."""
    urls = list_answer_urls(parts)
    shown = [part for part in parts if is_case(part)]
    day = timezone.localtime(episode.starts_at)
    head = f"{settings.SHOW_NAME}, episode {episode.number}: {episode.title}"
    sections = [
        Section("", [head, f"{day.day} {day:%B %Y}"], 0),
        Section("Take care", _cautions(shown), 0),
        Section("Put right, and what makers say", _corrections(parts), 0),
        Section("In this show", fit_list(chapters).lines, 2),
        Section("The prints, and who sent them", _credits(shown, urls), 1),
        Section("Asked by the audience", _questions(parts), 4),
        Section("Links", _links(parts), 3),
    ]
    return [section for section in sections if section.lines]


def fit_text(sections: Sequence[Section], limit_chars: int) -> Written:
    """Return the sections as one text; the least needed go first when the limit is too small.

    Cautions and corrections always stay.
    """
    kept = list(sections)
    left_out: list[str] = []
    while limit_chars and len(_join(kept)) > limit_chars:
        least = max(kept, key=lambda section: section.rank)
        if not least.rank:
            break
        kept.remove(least)
        left_out.append(least.heading)
    text = _join(kept)
    over = max(0, len(text) - limit_chars) if limit_chars else 0
    return Written(text, tuple(left_out), over)


def list_names_not_to_say(text: str, generated: str, parts: Iterable[ShownPart]) -> list[str]:
    """Return a sentence for each name an edited text holds that the desk would not say now.

    Looked for are the names and handles of the people of the shown cases, also those of an earlier
    consent; a name the desk writes itself may be said.
    """
    found = []
    for part in parts:
        if part.segment.case is None:
            continue
        for case in list_group(part.segment.case):
            for name in sorted(known_names(case)):
                if _holds(text, name) and not _holds(generated, name):
                    found.append(f"“{name}” of case {case.pk} is not to be named.")
    return found


def known_names(case: Case) -> set[str]:
    """Return every name the desk knows the people of a case by."""
    consents = case.consents.values_list("credit_as", flat=True)
    parts = case.parts.select_related("person")
    names = {case.person_name, case.handle, case.credit_as, case.owner_name, *consents}
    names |= {name for part in parts for name in (part.person.name, part.credit_as)}
    return {name for name in names if len(name) >= LEAST_NAME_CHARS}


def without_names(text: str, names: Iterable[str]) -> str:
    """Return a text with names taken out."""
    for name in sorted(names, key=len, reverse=True):
        text = _pattern(name).sub("somebody", text)
    return text


def _join(sections: Sequence[Section]) -> str:
    return "\n\n".join(section.text for section in sections) + "\n" if sections else ""


def _cautions(parts: Iterable[ShownPart]) -> list[str]:
    """Return the cautions of what was shown, dangers first, each once."""
    cautions = [
        c for part in parts if part.segment.case for c in gather_advice(part.segment.case).cautions
    ]
    ordered = sorted(cautions, key=lambda caution: not caution.is_danger)
    return list(dict.fromkeys(one_line(caution.text) for caution in ordered))


def _corrections(parts: Iterable[ShownPart]) -> list[str]:
    """Return the standing corrections and replies on what the show spoke of."""
    texts = [
        words
        for part in parts
        for words in (part.segment.slug, part.segment.script, part.segment.talking_points)
    ]
    lines = []
    for mention in list_mentions(texts):
        day = f"{mention.date.day} {mention.date:%B %Y}"
        what = f"{one_line(mention.subject)}, {mention.kind} of {day}"
        lines.append(f"{what}: {one_line(mention.text)}")
    return lines


def _credits(parts: Iterable[ShownPart], urls: dict[int, str]) -> list[str]:
    """Return a line for each print: its title, who is named for it now, its public answer."""
    lines = []
    for part in parts:
        if part.segment.case is None:
            continue
        group = list_group(part.segment.case)
        credits = [credit for case in group for credit in list_credits(case)]
        names = list(dict.fromkeys(f"{c.role} {c.name}".strip() for c in credits))
        line = one_line(part.segment.slug)
        if names:
            line += f": {'; '.join(names)}"
        lines.append(f"{line}. {urls.get(part.segment.case.pk, '')}".strip())
    return lines


def _questions(parts: Iterable[ShownPart]) -> list[str]:
    return [one_line(q) for part in parts if (q := part.segment.audience_question)]


def _links(parts: Iterable[ShownPart]) -> list[str]:
    """Return the addresses the parts name, each once."""
    lines = [line.strip() for part in parts for line in part.segment.links.splitlines()]
    return list(dict.fromkeys(line for line in lines if line))


def _holds(text: str, name: str) -> bool:
    return _pattern(name).search(text) is not None


def _pattern(name: str) -> re.Pattern[str]:
    """Return what finds a name as whole words, in any case."""
    return re.compile(rf"(?<!\w){re.escape(name)}(?!\w)", re.IGNORECASE)
