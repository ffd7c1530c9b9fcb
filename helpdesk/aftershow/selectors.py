"""Reading what comes after a show: times, chapters, texts, who was told, how fast it was said."""

from collections.abc import Sequence
from dataclasses import dataclass

from helpdesk.aftershow.chapters import Chapter, ChapterList, fit_list, make_chapters
from helpdesk.aftershow.descriptions import (
    Section,
    Written,
    fit_text,
    list_answer_urls,
    list_names_not_to_say,
    write_sections,
)
from helpdesk.aftershow.models import Description, HandTold
from helpdesk.aftershow.rates import MeasuredRate, measure_rates
from helpdesk.cases.models import Case, Event
from helpdesk.episodes.featuring import is_told, letter_key, list_group, write_letter
from helpdesk.episodes.models import Episode, EpisodeState, Segment
from helpdesk.episodes.real_times import Basis, ShownPart, list_shown_parts
from helpdesk.episodes.selectors import get_run_sheet
from helpdesk.outbox.deliveries import is_carried
from helpdesk.outbox.models import LINK_MARK, OutgoingMail

FIRST_TARGET = "Description"


@dataclass(frozen=True)
class Text:
    """The text for one place: edited or written by the desk, with what is amiss."""

    description: Description
    written: Written
    text: str
    trouble: Sequence[str]

    @property
    def is_edited(self) -> bool:
        """Return True when somebody wrote the text anew."""
        return bool(self.description.text)

    @property
    def is_stale(self) -> bool:
        """Return True when the desk would write another text by now than the one edited."""
        return self.is_edited and self.description.written_from != self.written.text

    @property
    def over_chars(self) -> int:
        """Return by how many characters the text is too long."""
        limit = self.description.limit_chars
        return max(0, len(self.text) - limit) if limit else 0


@dataclass(frozen=True)
class Told:
    """How somebody is or was told where their print was shown."""

    case: Case
    part: ShownPart
    way: str  # mail, program, hand (to be told), told (by hand) or none
    state: str
    words: str = ""
    second_told: int | None = None

    @property
    def has_moved(self) -> bool:
        """Return True when the time they were told is not the time known now."""
        return self.second_told is not None and self.second_told != int(self.part.at_s)


@dataclass(frozen=True)
class AfterShow:
    """Everything the page after a show needs."""

    episode: Episode
    parts: Sequence[ShownPart]
    left_out: Sequence[Segment]
    chapters: Sequence[Chapter]
    listed: ChapterList

    @property
    def basis(self) -> str:
        """Return in words what the times rest on."""
        noted = sum(part.is_noted for part in self.parts)
        if self.episode.on_air_at is None:
            return "planned times: nobody noted when the show went on air"
        if noted == len(self.parts):
            return "real times: every part was noted on the evening"
        return (
            f"real times of {noted} of {len(self.parts)} parts; "
            "the others are reckoned from the part before and its planned length"
        )

    @property
    def is_sound(self) -> bool:
        """Return True when every time was noted."""
        return all(part.basis == Basis.NOTED for part in self.parts)


def get_after_show(episode: Episode) -> AfterShow:
    """Return the parts of a show as they were on, and their chapters."""
    sheet = get_run_sheet(episode)
    parts = list_shown_parts(sheet)
    chapters = make_chapters(parts, list_answer_urls(parts))
    left_out = [row.segment for row in sheet.rows if row.segment.was_left_out]
    return AfterShow(episode, parts, left_out, chapters, fit_list(chapters))


def list_texts(after: AfterShow) -> list[Text]:
    """Return the text for each place of this show, those of the show before when it has none."""
    sections = write_sections(after.episode, after.parts, after.chapters)
    return [_text(row, sections, after) for row in list_targets(after.episode)]


def list_targets(episode: Episode) -> list[Description]:
    """Return the places a show's text goes to; rows not kept yet stand for the usual ones."""
    kept = list(episode.descriptions.all())
    if kept:
        return kept
    before = Description.objects.filter(episode__number__lt=episode.number)
    latest = before.order_by("-episode__number").first()
    if latest is None:
        return [Description(episode=episode, target=FIRST_TARGET)]
    return [
        Description(episode=episode, target=row.target, limit_chars=row.limit_chars)
        for row in latest.episode.descriptions.all()
    ]


def list_told(after: AfterShow) -> list[Told]:
    """Return everybody with a part in what was shown, in the order of the show."""
    episode = after.episode
    hand = set(HandTold.objects.filter(episode=episode).values_list("case", flat=True))
    groups = [(p, list_group(p.segment.case)) for p in after.parts if p.segment.case]
    keys = {letter_key(case, episode): case.pk for _, group in groups for case in group}
    letters = OutgoingMail.objects.filter(dedupe_key__in=keys)
    by_case = {keys[letter.dedupe_key]: letter for letter in letters}
    # What people were told stays in the history, also when the time is corrected afterwards.
    events = Event.objects.filter(case__in=list(keys.values()), kind="featured")
    seconds = {e.case_id: e.data["seconds"] for e in events if e.data["episode"] == episode.number}
    return [
        _told(case, part, episode, by_case.get(case.pk), case.pk in hand, seconds.get(case.pk))
        for part, group in groups
        for case in group
    ]


def list_rates(after: AfterShow) -> list[MeasuredRate]:
    """Return how fast each presenter spoke in this show."""
    return measure_rates(after.episode, after.parts)


def _text(row: Description, sections: Sequence[Section], after: AfterShow) -> Text:
    written = fit_text(sections, row.limit_chars)
    trouble = list_names_not_to_say(row.text, written.text, after.parts) if row.text else []
    return Text(row, written, row.text or written.text, trouble)


def _told(
    case: Case,
    part: ShownPart,
    episode: Episode,
    letter: OutgoingMail | None,
    was_told_by_hand: bool,
    second: int | None,
) -> Told:
    """Return how one person is told, in words."""
    is_out = episode.state == EpisodeState.OUT
    second = second if is_out else None
    if letter is not None:
        return Told(case, part, "mail", _letter_state(letter), second_told=second)
    if case.email and is_out and is_told(case, episode):
        return Told(case, part, "mail", "told with the other report of the same print")
    if case.email and not is_out:
        return Told(case, part, "mail", "will be written to when the episode is marked as out")
    if is_carried(case):
        state = "passed on by a program" if is_out else "will be passed on by a program"
        return Told(case, part, "program", state, second_told=second)
    if was_told_by_hand:
        return Told(case, part, "told", "told by hand", second_told=second)
    if not is_out:
        return Told(case, part, "hand", f"to be told by {case.get_reply_channel_display()}")
    if not (case.email or case.handle):
        return Told(case, part, "none", "gave no way to be reached")
    way = "wants no such letters" if case.email else case.get_reply_channel_display()
    if case.email:
        return Told(case, part, "none", way)
    return Told(case, part, "hand", f"to be told by {way}", words=_hand_words(case, part))


def _letter_state(letter: OutgoingMail) -> str:
    if letter.undelivered_at:
        return "letter not delivered"
    return "letter sent" if letter.sent_at else "letter is being sent"


def _hand_words(case: Case, part: ShownPart) -> str:
    """Return the words to copy into a chat; the private page is not made anew for them."""
    text = write_letter(case, part.segment.episode, int(part.at_s))
    lines = [line for line in text.splitlines() if LINK_MARK not in line]
    return "\n".join(lines).strip()
