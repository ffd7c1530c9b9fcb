"""One timeline of a case over all channels: what was said, and what became of its delivery."""

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from helpdesk.cases.models import Case, Channel, Message, MessageKind
from helpdesk.outbox.deliveries import Delivery, list_deliveries
from helpdesk.outbox.models import MailKind
from helpdesk.outbox.selectors import Letter, list_case_letters

SAME_TIME = datetime.timedelta(minutes=2)  # between what was said and its letter's being written
LONG = 600  # characters above which words are folded [judgement: desk design, 2026-11]
MESSAGE_WORDS = {
    MessageKind.QUESTION: "Question",
    MessageKind.REPLY: "Reply",
    MessageKind.ANSWER: "Answer",
    MessageKind.RECEIPT: "Receipt",
    MessageKind.FOLLOW_UP: "Asked how it went",
    MessageKind.NOTE: "Note between us",
}
LETTER_WORDS = {
    MailKind.RECEIPT: "Receipt",
    MailKind.QUESTION: "Question",
    MailKind.ANSWER: "Answer",
    MailKind.FOLLOW_UP: "Asked how it went",
    MailKind.FEATURED: "Told of the show",
}
# The message a letter or another delivery carries, by the letter's kind or the delivery's words.
CARRIES = {
    MailKind.QUESTION: MessageKind.QUESTION,
    MailKind.ANSWER: MessageKind.ANSWER,
    MailKind.FOLLOW_UP: MessageKind.FOLLOW_UP,
    "follow-up": MessageKind.FOLLOW_UP,
}
# The state of a delivery and the mark that goes with its words.
STATE_MARKS = {
    "waiting": "unknown",
    "sent": "yes",
    "failing": "caution",
    "given up": "no",
    "not delivered": "no",
}


@dataclass(frozen=True, kw_only=True)
class Sending:
    """What became of one attempt to reach the person; `mail_id` is set for a letter."""

    channel: str
    state: str
    at: datetime.datetime  # of the state
    written_at: datetime.datetime
    words: str = ""
    link: str = ""
    mail_id: int | None = None

    @property
    def channel_words(self) -> str:
        """Return the channel's name."""
        return _channel_words(self.channel)

    @property
    def mark(self) -> str:
        """Return the shape that goes with the state."""
        return STATE_MARKS.get(self.state, "unknown")


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One thing said or sent. `side` is person, desk or internal."""

    at: datetime.datetime
    kind: str
    what: str
    side: str
    who: str = ""
    channel: str = ""
    body: str = ""
    questions: Sequence[dict[str, str | None]] = ()
    link: str = ""
    sendings: tuple[Sending, ...] = field(default=())

    @property
    def channel_words(self) -> str:
        """Return the channel's name, or "" where none is known."""
        return _channel_words(self.channel)

    @property
    def is_long(self) -> bool:
        """Return True when the words are folded away behind their beginning."""
        return len(self.body) > LONG


def get_timeline(case: Case) -> list[Entry]:
    """Return everything said and sent about a case, oldest first, in a fixed number of queries."""
    entries = [*_reports(case), *_messages(case), *_outcomes(case), *_appearances(case)]
    sendings = [
        *((letter.mail.kind, _of_letter(letter)) for letter in list_case_letters(case)),
        *((found.what, _of_delivery(found)) for found in list_deliveries(case)),
    ]
    return sorted(_attach(entries, sendings), key=lambda entry: entry.at)


def list_undelivered(entries: Iterable[Entry]) -> list[Sending]:
    """Return the letters that did not arrive and were not written again since."""
    letters = [s for entry in entries for s in entry.sendings if s.mail_id is not None]
    lost = [sending for sending in letters if sending.state == "not delivered"]
    fine = [sending.written_at for sending in letters if sending.state in ("sent", "waiting")]
    return [sending for sending in lost if not fine or sending.at > max(fine)]


def _reports(case: Case) -> list[Entry]:
    return [
        Entry(
            at=report.received_at,
            kind="report",
            what="Report",
            side="person",
            who=case.person,
            channel=report.channel,
            body=report.story,
            link=report.link,
        )
        for report in case.reports.all()
    ]


def _messages(case: Case) -> list[Entry]:
    return [_of_message(message) for message in case.messages.select_related("author")]


def _of_message(message: Message) -> Entry:
    kind = MessageKind(message.kind)
    side = "person" if kind == MessageKind.REPLY else "desk"
    return Entry(
        at=message.sent_at,
        kind=kind.value,
        what=MESSAGE_WORDS[kind],
        side="internal" if kind == MessageKind.NOTE else side,
        who=message.author_name,
        channel=message.channel,
        body=message.body,
        questions=message.questions,
    )


def _outcomes(case: Case) -> list[Entry]:
    return [
        Entry(
            at=outcome.said_at,
            kind="outcome",
            what=f"Outcome: {outcome.get_result_display()}",
            side="person",
            who=outcome.said_by,
            body=outcome.words,
        )
        for outcome in case.outcomes.all()
    ]


def _appearances(case: Case) -> list[Entry]:
    return [
        Entry(
            at=event.at,
            kind="featured",
            what=event.what,
            side="desk",
            who=event.actor_name,
        )
        for event in case.events.filter(kind="featured")
    ]


def _of_letter(letter: Letter) -> Sending:
    mail = letter.mail
    return Sending(
        channel=Channel.MAIL,
        state=letter.state,
        at=mail.undelivered_at or mail.sent_at or mail.created_at,
        written_at=mail.created_at,
        words=letter.error,
        mail_id=mail.pk,
    )


def _of_delivery(found: Delivery) -> Sending:
    return Sending(
        channel=found.channel,
        state=found.state,
        at=found.at,
        written_at=found.at,
        words=found.words,
        link=found.link,
    )


def _attach(entries: Sequence[Entry], sendings: Iterable[tuple[str, Sending]]) -> list[Entry]:
    """Put each sending below the words it carried, or let it stand by itself."""
    found = list(entries)
    for what, sending in sendings:
        place = _find_carried(found, what, sending)
        if place is None:
            found.append(_alone(what, sending))
        else:
            old = found[place]
            found[place] = replace(
                old, channel=old.channel or sending.channel, sendings=(*old.sendings, sending)
            )
    return found


def _find_carried(entries: Sequence[Entry], what: str, sending: Sending) -> int | None:
    """Return the place of the words a sending carried: those of its kind said nearest to it."""
    kind = CARRIES.get(what, what)
    near = [
        (abs(entry.at - sending.written_at), place)
        for place, entry in enumerate(entries)
        if entry.kind == kind and entry.side == "desk"
    ]
    gap, place = min(near, default=(SAME_TIME * 2, -1))
    return place if gap <= SAME_TIME else None


def _alone(what: str, sending: Sending) -> Entry:
    words = {str(kind): words for kind, words in LETTER_WORDS.items()}
    return Entry(
        at=sending.written_at,
        kind="letter",
        what=words.get(what, what.capitalize()),
        side="desk",
        who="the desk",
        channel=sending.channel,
        sendings=(sending,),
    )


def _channel_words(channel: str) -> str:
    return str(Channel(channel).label) if channel in Channel.values else channel
