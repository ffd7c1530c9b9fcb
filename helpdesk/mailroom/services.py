"""Take letters in: the raw bytes first, then one transaction with the effect.

A letter is named by the sum of its bytes. Whatever is killed in between, the same letter handed
over again has its effect once.
"""

import datetime
import hashlib
import logging
import os
import re
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from io import UnsupportedOperation

from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.db import IntegrityError, transaction

from helpdesk.accounts.models import User
from helpdesk.cases.models import Case, Channel
from helpdesk.cases.services import NewReport, record_event
from helpdesk.core import clock, limits
from helpdesk.core.errors import RefusedInputError, WrongStateError
from helpdesk.core.jobs import start_job, without_hints
from helpdesk.core.storage import delete_files, delete_now, new_name, purge_strays
from helpdesk.incoming.services import send_receipt, take_reply, take_report
from helpdesk.incoming.values import Attachment
from helpdesk.mailroom.automatic import Automatic, Kind
from helpdesk.mailroom.errors import AlreadyDecidedError, LetterRefusedError
from helpdesk.mailroom.letters import Letter, read_letter
from helpdesk.mailroom.limits import MAX_BYTES, MAX_BYTES_WORDS, MAX_LETTERS_AN_HOUR
from helpdesk.mailroom.matching import Match, find_match, is_own_letter
from helpdesk.mailroom.models import Effect, IncomingMail, MailState, letter_storage
from helpdesk.outbox.addresses import is_own_address
from helpdesk.outbox.services import note_incoming, note_undelivered

# RFC 3834 section 2: the same notice to one sender no more than once in seven days.
NOTICE_PAUSE = datetime.timedelta(days=7)
HOUR = datetime.timedelta(hours=1)
WAITING_LONG = datetime.timedelta(minutes=5)
RECEIPTS = limits.Limit("mail_receipts", limits.HOUR_S)
EVERYBODY = "everybody"  # receipts are counted together, whoever they go to
WRITERS = 4
TITLE_CHARS = 120
REASON_CHARS = 300
NAME_CHARS = 80
OPEN_STATES = frozenset({MailState.WAITING, MailState.KEPT, MailState.QUARANTINED})
_PREFIX = re.compile(r"(?:\s*(?:re|aw|sv|vs|antw|odp|res|fwd?|wg|tr|rv|enc|i|vb|pd)\s*:)+", re.I)
logger = logging.getLogger(__name__)


def receive_letter(
    raw: bytes, *, origin: str, is_polled: bool = False, wants_receipt: bool = True
) -> tuple[IncomingMail, bool]:
    """Keep a letter's bytes; return its row, and False when these bytes were here already.

    Once this returns the letter survives a power cut. Raises LetterRefusedError for what is no
    letter at all or larger than the limit.
    """
    _check(raw)
    sha256 = hashlib.sha256(raw).hexdigest()
    known = IncomingMail.objects.filter(sha256=sha256).first()
    if known:
        return known, False
    name = _store(raw)
    try:
        with transaction.atomic():
            mail = IncomingMail.objects.create(
                sha256=sha256,
                file=name,
                size_bytes=len(raw),
                origin=origin[:120],
                is_polled=is_polled,
                wants_receipt=wants_receipt,
                received_at=clock.now(),
            )
    except IntegrityError:  # two processes brought it at once
        letter_storage().delete(name)
        return IncomingMail.objects.get(sha256=sha256), False
    return mail, True


def receive_letters(
    raws: Sequence[bytes], *, origin: str, wants_receipt: bool = True
) -> list[IncomingMail | LetterRefusedError]:
    """Keep several letters in one transaction; return the row, or the refusal, of each."""
    refused: dict[int, LetterRefusedError] = {}
    sums: list[str] = []
    for number, raw in enumerate(raws):
        sums.append(hashlib.sha256(raw).hexdigest())
        try:
            _check(raw)
        except LetterRefusedError as error:
            refused[number] = error
    rows = {mail.sha256: mail for mail in IncomingMail.objects.filter(sha256__in=sums)}
    fresh = {
        sums[number]: raw
        for number, raw in enumerate(raws)
        if number not in refused and sums[number] not in rows
    }
    # The disk takes several files at a time sooner than one after the other.
    with ThreadPoolExecutor(WRITERS) as writers:
        names = list(writers.map(_store, fresh.values()))
    new = [
        IncomingMail(
            sha256=sha256,
            file=name,
            size_bytes=len(raw),
            origin=origin[:120],
            wants_receipt=wants_receipt,
            received_at=clock.now(),
        )
        for (sha256, raw), name in zip(fresh.items(), names, strict=True)
    ]
    try:
        with transaction.atomic():
            rows |= {mail.sha256: mail for mail in IncomingMail.objects.bulk_create(new)}
    except IntegrityError:  # another process brought one of them meanwhile
        delete_now(letter_storage(), names)
        for sha256, raw in fresh.items():
            rows[sha256], _ = receive_letter(raw, origin=origin, wants_receipt=wants_receipt)
    return [refused.get(number) or rows[sha256] for number, sha256 in enumerate(sums)]


def _check(raw: bytes) -> None:
    """Raise LetterRefusedError for what is no letter at all or larger than the limit."""
    if not raw.strip():
        raise LetterRefusedError("It is empty.")
    if len(raw) > MAX_BYTES:
        raise LetterRefusedError(f"It is larger than {MAX_BYTES_WORDS}.")


@transaction.atomic
def receive_and_plan(raw: bytes, *, origin: str, is_head: bool = False) -> IncomingMail:
    """Keep a letter that was fetched and the job that takes it, in one transaction.

    `is_head` says that only the header was fetched, for the letter is above the limit: it waits
    for a reviewer.
    """
    mail, is_new = receive_letter(raw, origin=origin, is_polled=True)
    if is_head and is_new:
        _fill(mail, read_letter(raw))
        _set_aside(mail, f"It is larger than {MAX_BYTES_WORDS}; only its header was fetched.")
        mail.save()
    elif mail.state == MailState.WAITING:
        plan_taking(mail)
    return mail


def plan_taking(mail: IncomingMail) -> None:
    """Write the job that takes a waiting letter."""
    start_job("take-mail", key=f"take-mail:{mail.pk}", payload={"mail": mail.pk})


def plan_waiting_letters() -> int:
    """Plan letters whose process was killed between keeping and taking; return how many."""
    before = clock.now() - WAITING_LONG
    waiting = IncomingMail.objects.filter(state=MailState.WAITING, received_at__lt=before)
    for mail in waiting[:500]:
        plan_taking(mail)
    return len(waiting[:500])


@transaction.atomic
def take_letter(mail_id: int) -> IncomingMail:
    """Read a waiting letter and do what it calls for; one that was decided stays as it is.

    Nothing in a letter makes this fail: one that cannot be read or taken is set aside with the
    reason, and its raw bytes stay.
    """
    mail = IncomingMail.objects.select_for_update().get(pk=mail_id)
    if mail.state != MailState.WAITING:
        return mail
    letter = _read_or_set_aside(mail)
    if letter:
        _fill(mail, letter)
        _try_or_set_aside(mail, lambda: _decide(mail, letter))
    mail.save()
    return mail


@transaction.atomic
def take_again(mail_id: int) -> IncomingMail:
    """Read a letter again that was set aside or kept, as if it came now.

    Raises AlreadyDecidedError when it has gone to a case.
    """
    mail = _lock_open(mail_id)
    mail.state, mail.kind, mail.reason = MailState.WAITING, "", ""
    mail.save()
    return take_letter(mail_id)


@transaction.atomic
def open_case_for(mail_id: int, *, by: User) -> IncomingMail:
    """Make a new case of a letter because a reviewer says so; no receipt is sent.

    Raises AlreadyDecidedError when it has gone to a case.
    """
    mail = _lock_open(mail_id)
    letter = _read_or_set_aside(mail)
    if letter:
        mail.wants_receipt = False
        _fill(mail, letter)
        _try_or_set_aside(mail, lambda: _open_case(mail, letter, by=by))
    mail.save()
    return mail


@transaction.atomic
def give_to_case(mail_id: int, case_id: int, *, by: User) -> IncomingMail:
    """Add a letter to a case as a reply because a reviewer says so.

    Raises AlreadyDecidedError when it has gone to a case.
    """
    mail = _lock_open(mail_id)
    letter = _read_or_set_aside(mail)
    if letter:
        _fill(mail, letter)
        case = Case.objects.get(pk=case_id)
        match = Match(case, by_address=False, is_persons=_is_sender(letter, case))
        _try_or_set_aside(mail, lambda: _add_reply(mail, letter, match, by=by))
    mail.save()
    return mail


@transaction.atomic
def dismiss_letter(mail_id: int) -> IncomingMail:
    """Note that a reviewer looked at a letter and nothing is to be done."""
    mail = _lock_open(mail_id)
    mail.state = MailState.DISMISSED
    mail.save(update_fields=["state"])
    return mail


@transaction.atomic
def erase_letter(mail: IncomingMail) -> None:
    """Remove everything of a letter but the sum of its bytes."""
    delete_files(letter_storage(), [mail.file.name])
    IncomingMail.objects.filter(pk=mail.pk).update(
        state=MailState.ERASED,
        file="",
        reason="",
        message_id="",
        content_sha256="",
        sender="",
        sender_name="",
        subject="",
        text="",
        words="",
        fields=[],
        notes=[],
        files=[],
        owner_name="",
        owner_address="",
        sent_at=None,
        suggested_case=None,
    )


def purge_stray_files() -> int:
    """Delete old files that no row names, in one of the folders; return how many."""
    return purge_strays(letter_storage(), _find_named)


def read_raw(mail: IncomingMail) -> bytes:
    """Return a letter's bytes as they came."""
    with letter_storage().open(str(mail.file.name)) as file:
        return bytes(file.read())


def _find_named(names: set[str]) -> set[str]:
    return set(IncomingMail.objects.filter(file__in=names).values_list("file", flat=True))


def _store(raw: bytes) -> str:
    """Write bytes to the storage and wait until the disk has them; return their name."""
    storage = letter_storage()
    name: str = storage.save(new_name("eml"), ContentFile(raw))
    with storage.open(name) as file:
        try:
            os.fsync(file.fileno())
        except UnsupportedOperation:  # a storage without a disk
            return name
    return name


def _lock_open(mail_id: int) -> IncomingMail:
    mail = IncomingMail.objects.select_for_update().get(pk=mail_id)
    if mail.state not in OPEN_STATES:
        raise AlreadyDecidedError("Somebody decided about this letter already.")
    return mail


def _read_or_set_aside(mail: IncomingMail) -> Letter | None:
    """Return a letter as read, or None once it is set aside because it cannot be."""
    try:
        return read_letter(read_raw(mail))
    except Exception as error:  # whatever somebody sent, the letter must stay and be seen
        logger.exception("Letter %s could not be read", mail.pk)
        _set_aside(mail, f"It could not be read: {type(error).__name__}.")
        return None


def _try_or_set_aside(mail: IncomingMail, step: Callable[[], None]) -> None:
    """Do a step, or set the letter aside when the desk's own rules refuse it."""
    try:
        with transaction.atomic():
            step()
    except (RefusedInputError, WrongStateError, ValidationError, ValueError) as error:
        mail.case, mail.effect = None, Effect.NONE
        mail.acknowledged_at = None
        _set_aside(mail, f"It could not be taken: {error}")


def _set_aside(mail: IncomingMail, why: str) -> None:
    mail.state = MailState.QUARANTINED
    mail.reason = why[:REASON_CHARS]


def _keep(mail: IncomingMail, kind: str, why: str) -> None:
    mail.state = MailState.KEPT
    mail.kind = kind
    mail.reason = why[:REASON_CHARS]


def _fill(mail: IncomingMail, letter: Letter) -> None:
    """Copy what a page shows of a letter."""
    mail.message_id = letter.message_id
    mail.content_sha256 = letter.content_sha256
    mail.sent_at = letter.sent_at
    mail.sender = letter.sender.address if letter.sender else ""
    mail.sender_name = letter.sender.name if letter.sender else ""
    mail.subject = letter.subject
    mail.text, mail.words = letter.text, letter.words
    mail.fields = [list(pair) for pair in letter.shown]
    mail.notes = list(letter.notes)
    mail.files = [file.label for file in letter.files]
    mail.owner_name = letter.forwarded.author.name if letter.forwarded else ""
    mail.owner_address = letter.forwarded.author.address if letter.forwarded else ""


def _decide(mail: IncomingMail, letter: Letter) -> None:
    """Do what a letter calls for, from the surest sign to the weakest."""
    if letter.refusal:
        return _set_aside(mail, letter.refusal)
    if letter.has_own_id and _is_known_id(mail):
        return None
    if letter.doubled:
        return _set_aside(mail, f"It has more than one {' and '.join(letter.doubled)}.")
    if is_own_letter(letter) or (letter.sender and is_own_address(letter.sender.address)):
        return _keep(mail, Kind.LOOP, "It is a letter of the desk itself.")
    match = find_match(letter)
    if letter.automatic:
        return _keep_automatic(mail, letter, letter.automatic, match)
    if letter.sender is None:
        return _set_aside(mail, "It names no sender that could be answered.")
    if match and (match.by_address or match.is_persons):
        return _add_reply(mail, letter, match)
    if match:
        mail.suggested_case = match.case
        return _keep(
            mail, Kind.MATCH, "It names a letter of a case, but comes from another address."
        )
    if mail.is_polled and _is_flood(mail):
        return _keep(
            mail, Kind.LOOP, f"More than {MAX_LETTERS_AN_HOUR} letters came from there in an hour."
        )
    return _open_case(mail, letter)


def _is_known_id(mail: IncomingMail) -> bool:
    """Return True when another letter has the same id: a copy is kept, another text set aside."""
    others = IncomingMail.objects.filter(message_id=mail.message_id).exclude(pk=mail.pk)
    other = others.exclude(state__in=(MailState.WAITING, MailState.ERASED)).order_by("pk").first()
    if other is None:
        return False
    if other.content_sha256 == mail.content_sha256:
        mail.case = other.case
        _keep(mail, Kind.COPY, f"It is another copy of letter {other.pk}.")
    else:
        mail.suggested_case = other.case
        _set_aside(mail, f"Letter {other.pk} has the same Message-ID and says something else.")
    return True


def _keep_automatic(
    mail: IncomingMail, letter: Letter, automatic: Automatic, match: Match | None
) -> None:
    """Keep what a machine wrote; letters it reports as not delivered are marked."""
    mail.suggested_case = match.case if match else None
    _keep(mail, automatic.kind, automatic.why)
    for failure in letter.failures:
        lost = note_undelivered(
            message_id=failure.message_id,
            address=failure.address,
            status=failure.status,
            words=failure.words,
            case=match.case if match and match.by_address else None,
        )
        if lost and lost.case:
            mail.suggested_case = lost.case


def _is_flood(mail: IncomingMail) -> bool:
    since = clock.now() - HOUR
    lately = IncomingMail.objects.filter(sender=mail.sender, received_at__gt=since, is_polled=True)
    return lately.exclude(pk=mail.pk).count() >= MAX_LETTERS_AN_HOUR


def _open_case(mail: IncomingMail, letter: Letter, *, by: User | None = None) -> None:
    """Open a case for a letter; the receipt goes out with the case when one may."""
    if not (letter.words or letter.subject or letter.files):
        return _set_aside(mail, "It holds neither words nor files.")
    forwarded = letter.forwarded
    taken = take_report(
        NewReport(
            story=letter.words or letter.subject,
            submission_key=f"mail:{mail.sha256}",
            channel=Channel.MAIL,
            title=_PREFIX.sub("", letter.subject, count=1).strip()[:TITLE_CHARS],
            facts_as_sent={"subject": letter.subject},
            person_name=letter.sender.name if letter.sender else "",
            reply_channel=Channel.MAIL,
            email=letter.answer_address,
            is_own_print=forwarded is None,
            owner_name=forwarded.author.name if forwarded else "",
        ),
        _attachments(letter),
        acknowledges=False,
    )
    _link(mail, taken.case, Effect.REPORT, letter)
    _note_what_was_left(taken.case, letter)
    if by:
        record_event(taken.case, kind="mail", what="Opened from a letter set aside", actor=by)
    if _may_acknowledge(mail, letter):
        send_receipt(taken.case)
        mail.acknowledged_at = clock.now()
    return None


def _add_reply(mail: IncomingMail, letter: Letter, match: Match, *, by: User | None = None) -> None:
    """Add a letter to its case as a reply."""
    mail.is_from_another = not match.is_persons
    name = letter.sender.name if letter.sender else ""
    if mail.is_from_another:
        name = f"{(name or 'Somebody')[: NAME_CHARS - 23]}, from another address"
    taken = take_reply(
        match.case.pk,
        key=f"mail:{mail.sha256}",
        words=letter.words or _words_for_none(letter),
        channel=Channel.MAIL,
        attachments=_attachments(letter),
        author_name=name,
    )
    _link(mail, match.case, Effect.REPLY, letter)
    if taken.is_new:
        _note_what_was_left(match.case, letter)
        if by:
            record_event(match.case, kind="mail", what="A letter was added to this case", actor=by)


def _words_for_none(letter: Letter) -> str:
    """Return what stands for a reply without new words: all of its text, or nothing."""
    return "" if letter.files else letter.text


def _link(mail: IncomingMail, case: Case, effect: str, letter: Letter) -> None:
    """Tie a letter to its case, and its id to the case's thread."""
    mail.state, mail.kind, mail.reason = MailState.TAKEN, "", ""
    mail.case, mail.effect, mail.suggested_case = case, effect, None
    if letter.has_own_id:
        references = " ".join(reversed(letter.earlier_ids))
        note_incoming(case, letter.message_id, references, letter.subject)


def _note_what_was_left(case: Case, letter: Letter) -> None:
    """Write into the case's history what of a letter a reviewer should know."""
    if letter.notes:
        record_event(case, kind="mail", what="About the letter", why="\n".join(letter.notes))


def _may_acknowledge(mail: IncomingMail, letter: Letter) -> bool:
    """Return True when a receipt may go out, and count it."""
    if not mail.wants_receipt or not mail.sender or letter.automatic:
        return False
    since = clock.now() - NOTICE_PAUSE
    if IncomingMail.objects.filter(sender=mail.sender, acknowledged_at__gt=since).exists():
        mail.notes = [*mail.notes, "No receipt was sent: this address had one within seven days."]
        return False
    if not limits.spend(RECEIPTS, EVERYBODY):
        mail.notes = [*mail.notes, "No receipt was sent: very many went out within the hour."]
        return False
    return True


def _attachments(letter: Letter) -> Iterator[Attachment]:
    """Yield a letter's files one by one, so that one at a time is in memory."""
    for file in letter.files:
        yield Attachment(label=file.label, file=ContentFile(file.read(), name=file.label))


def _is_sender(letter: Letter, case: Case) -> bool:
    return bool(letter.sender and letter.sender.address.casefold() == case.email.casefold())


def take_batch(mails: Sequence[IncomingMail]) -> list[IncomingMail]:
    """Take several letters in one transaction; one that fails costs the others nothing.

    The worker finds their jobs at its next sweep.
    """
    with without_hints(), transaction.atomic():
        return [take_letter(mail.pk) for mail in mails]
