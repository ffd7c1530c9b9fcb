"""Whatever somebody sends, reading it raises nothing and is never slow.

The long run, of 100,000 mutated letters and more, is `tests/benchmarks/bench_mail.py --mutations`.
"""

import random
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpdesk.mailroom.fields import decode_words, read_date, read_mailboxes
from helpdesk.mailroom.letters import read_letter
from helpdesk.mailroom.models import IncomingMail, MailState
from helpdesk.mailroom.quotes import fold
from helpdesk.mailroom.services import read_raw, receive_letter, take_letter
from tests.benchmarks.bench_mail import SLOW_S, mutate
from tests.helpdesk.mailroom.letters import letter
from tests.helpdesk.mailroom.test_automatic import NEVER_ANSWERED
from tests.helpdesk.mailroom.test_fields import LATEST
from tests.helpdesk.mailroom.test_parts import corpus

SEEDS = [
    letter(photos=1, html="<p>Words <b>here</b></p>", files=[("a.gcode", b"G28\n")]),
    letter("Fwd", subject="Fwd: =?utf-8?q?R=C3=B6ok?="),
    *NEVER_ANSWERED.values(),
    *(path.read_bytes() for path in corpus()),
]
UNSTORABLE = frozenset(map(chr, [*range(9), 11, 12, *range(14, 32), 127]))


def test_mutated_letters_are_read():
    """Two thousand letters with bytes changed, doubled, moved or cut."""
    chance = random.Random(3834)  # noqa: S311 - repeatable on purpose
    slowest = 0.0
    for _ in range(2000):
        raw = mutate(chance.choice(SEEDS)[:8000], chance)
        start = time.process_time()
        read = read_letter(raw)
        slowest = max(slowest, time.process_time() - start)
        for line in (read.subject, read.sender.name if read.sender else ""):
            assert not UNSTORABLE & set(line)
            assert "\n" not in line
        assert not UNSTORABLE & set(read.text)

    assert slowest < SLOW_S


@given(st.binary(max_size=3000))
@settings(max_examples=200, deadline=None)
def test_any_bytes_are_read(raw):
    """Bytes that are no letter at all."""
    read_letter(raw)


@given(st.text(max_size=500))
@settings(max_examples=200, deadline=None)
def test_any_text_in_a_field_is_read(value):
    """Names, addresses, dates and encoded words of any kind."""
    decode_words(value)
    read_date(value, latest=LATEST)
    assert all("@" in box.address for box in read_mailboxes([value]))


@given(st.lists(st.sampled_from(["> a", "words", "", "-- ", "On 1 Jan 10:30 A wrote:", "From: A"])))
@settings(max_examples=200, deadline=None)
def test_folding_keeps_every_new_word(lines):
    """No line that looks like nothing special is lost before a signature or an earlier letter."""
    folded = fold("\n".join(lines))

    before = lines[: lines.index("-- ")] if "-- " in lines else lines
    assert folded.words.count("words") == before.count("words")


@pytest.mark.django_db
def test_mutated_letters_are_all_kept():
    """Each is taken, kept or set aside, and its bytes are there as they came."""
    chance = random.Random(5322)  # noqa: S311 - repeatable on purpose
    for _ in range(60):
        raw = mutate(chance.choice(SEEDS)[:8000], chance)
        if not raw.strip():
            continue
        mail, _ = receive_letter(raw, origin="test")
        mail = take_letter(mail.pk)
        assert mail.state in {MailState.TAKEN, MailState.KEPT, MailState.QUARANTINED}
        assert read_raw(mail) == raw
    assert not IncomingMail.objects.filter(reason__startswith="It could not be read").exists()
