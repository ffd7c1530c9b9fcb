"""New words apart from quotes and signatures; forwarded letters in several languages.

Nothing standard says how programs write the line above a quote: the lines here are common practice,
no source, written for this test. The separator of signatures is that of RFC 3676 section 4.3.
"""

import pytest

from helpdesk.mailroom.forwards import find_forwarded, is_forward_subject
from helpdesk.mailroom.letters import read_letter, unflow
from helpdesk.mailroom.quotes import fold
from tests.helpdesk.mailroom.letters import letter

NEW = "It is a new nozzle,\nand the belt is tight."
OLD = "> Is it a new nozzle?\n> Is the belt tight?"


@pytest.mark.parametrize(
    "line",
    [
        "On Wed, 18 Nov 2026 at 10:30, Printward <clinic@marrowlane.example> wrote:",
        "On 18/11/2026 10:30, Printward wrote:",
        "On Wednesday the 18th of November 2026,\nPrintward\n<clinic@marrowlane.example> wrote:",
        "Am 18.11.26 um 10:30 schrieb Printward:",
        "Am Mi., 18. Nov. 2026 um 10:30 Uhr schrieb Printward <\nclinic@marrowlane.example>:",
        "Le mer. 18 nov. 2026 à 10:30, Printward <clinic@marrowlane.example> a écrit :",
        "El mié, 18 nov 2026 a las 10:30, Printward escribió:",
        "Il giorno mer 18 nov 2026 alle ore 10:30 Printward ha scritto:",
        "Op wo 18 nov 2026 om 10:30 schreef Printward:",
        "Den ons 18 nov. 2026 kl 10:30 skrev Printward:",
        "Em qua., 18 de nov. de 2026 às 10:30, Printward escreveu:",
        "W dniu 18.11.2026 o 10:30, Printward pisze/napisał:",
        "2026年11月18日(水) 10:30 Printward <clinic@marrowlane.example>:",
    ],
)
def test_quote_and_the_line_above_it_are_folded(line):
    """The new words stay whatever the language of the program."""
    assert fold(f"{NEW}\n\n{line}\n\n{OLD}").words == NEW


@pytest.mark.parametrize(
    "head",
    [
        "-----Original Message-----\nFrom: Printward\nSent: Wednesday\nTo: Bettine\nSubject: Q",
        "-----Ursprüngliche Nachricht-----\nVon: Printward\nGesendet: Mittwoch\nAn: B\nBetreff: Q",
        "________________________________\nFrom: Printward\nSent: Wednesday\nTo: B\nSubject: Q",
        "De : Printward\nEnvoyé : mercredi\nÀ : Bettine\nObjet : Q",
        "*Von:* Printward\n*Gesendet:* Mittwoch\n*An:* Bettine\n*Betreff:* Q",
    ],
)
def test_whole_letter_below_is_folded(head):
    """Programs that do not quote repeat the earlier letter below its header."""
    assert fold(f"{NEW}\n\n{head}\n\nIs it a new nozzle?\nIs it tight?").words == NEW


def test_answers_between_quoted_lines_are_all_kept():
    """Somebody who answers point by point has every answer kept."""
    text = "On Monday at 10:30 Printward wrote:\n> Nozzle?\nNew.\n> Belt?\nTight."

    assert fold(text).words == "New.\nTight."


@pytest.mark.parametrize(
    "tail",
    [
        "-- \nBettine Halvorsen\nTarn Street 4",
        "--\nBettine",
        "Sent from my phone",
        "Von meinem Telefon gesendet",
    ],
)
def test_signature_is_folded(tail):
    """RFC 3676 section 4.3: two hyphens and a space; the rest is common practice."""
    assert fold(f"{NEW}\n\n{tail}").words == NEW


@pytest.mark.parametrize(
    "text",
    [
        "From: the first layer on it looks wrong.\nTo me at least.",
        "I wrote: G28\nG1 X10",
        "It prints fine -- mostly.\n---\nThen it curls.",
        "My friend wrote:\n\nit is the belt",
        "a > b",
        "",
    ],
)
def test_words_that_only_look_like_quotes_stay(text):
    """Nothing a person wrote anew is folded away."""
    assert fold(text).words == text.strip()


def test_whole_text_is_kept_beside_the_new_words():
    """What is folded away is one click off, not gone."""
    read = read_letter(letter(f"{NEW}\n\nOn Monday at 10:30 Printward wrote:\n{OLD}\n-- \nB"))

    assert read.words == NEW
    assert "Is the belt tight?" in read.text


def test_flowed_text_of_rfc_3676():
    """RFC 3676 section 4: soft line ends join, quote depths and the signature's line do not."""
    text = (
        "`Take some more tea,' the March Hare \nsaid to Alice, very earnestly.\n\n"
        "> I've had \n> nothing\n-- \nA"
    )

    assert unflow(text, deletes_space=False).split("\n") == [
        "`Take some more tea,' the March Hare said to Alice, very earnestly.",
        "",
        "> I've had nothing",
        "-- ",
        "A",
    ]


def test_marked_up_letter_is_read_as_words():
    """A letter without a plain part is read from its markup; nothing in it runs or is fetched."""
    raw = (
        letter("").replace(b"text/plain", b"text/html")
        + b"<p>The rook&nbsp;has <b>holes</b>.</p><script>x()</script><img src='http://t.example/p'>"
        + (b"<blockquote><p>Earlier words</p></blockquote>")
    )

    read = read_letter(raw)

    assert read.words == "The rook has holes."
    assert "> Earlier words" in read.text


def test_plain_part_is_preferred():
    """RFC 2046 section 5.1.4: both say the same; the plain one needs no reading of markup."""
    assert read_letter(letter("Plain words.", html="<p>Marked words.</p>")).words == "Plain words."


def test_empty_plain_part_gives_way_to_the_marked_up_one():
    """Some programs send an empty plain part."""
    assert read_letter(letter(" ", html="<p>Marked words.</p>")).words == "Marked words."


FORWARDS = [
    "---------- Forwarded message ---------\nFrom: {who}\nDate: Tue\nSubject: Rook\nTo: B",
    "Begin forwarded message:\n\nFrom: {who}\nSubject: Rook\nDate: 17 November 2026\nTo: B",
    "-------- Forwarded Message --------\nSubject: \tRook\nDate: \tTue\nFrom: \t{who}\nTo: \tB",
    "-------- Weitergeleitete Nachricht --------\nBetreff: Rook\nDatum: Di\nVon: {who}\nAn: B",
    "---------- Message transféré ---------\nDe : {who}\nDate: mar.\nObjet : Rook\nÀ : B",
    "---------- Mensaje reenviado ---------\nDe: {who}\nFecha: mar\nAsunto: Rook\nPara: B",
    "---------- Messaggio inoltrato ---------\nDa: {who}\nData: mar\nOggetto: Rook\nA: B",
    "---------- Doorgestuurd bericht ---------\nVan: {who}\nDatum: di\nOnderwerp: Rook\nAan: B",
    "---------- Videresendt meddelelse ---------\nFra: {who}\nDato: tirs\nEmne: Rook\nTil: B",
    "---------- Vidarebefordrat meddelande ---------\nFrån: {who}\nDatum: tis\nÄmne: Rook\nTill: B",
    "---------- Przekazana wiadomość ---------\nOd: {who}\nDate: wt\nTemat: Rook\nDo: B",
    "-----Original Message-----\nFrom: {who}\nSent: Tuesday\nTo: B\nSubject: Rook",
    "From: {who}\nSent: Tuesday\nTo: B\nSubject: Rook",
]


@pytest.mark.parametrize("head", FORWARDS)
@pytest.mark.parametrize(
    "who", ["Amara Quill <amara@ostler.example>", "Amara Quill [mailto:amara@ostler.example]"]
)
def test_forwarded_letter_names_its_first_writer(head, who):
    """Who wrote it, what they wrote, and what the finder says of it."""
    text = f"Look at this.\n\n{head.format(who=who)}\n\nThe rook has holes."

    found = find_forwarded(text, subject="Fwd: Rook")

    assert found
    assert (found.author.name, found.author.address) == ("Amara Quill", "amara@ostler.example")
    assert (found.words, found.comment) == ("The rook has holes.", "Look at this.")


def test_letter_passed_on_twice_names_the_first_of_all():
    """The innermost letter is the report."""
    one, two = (
        FORWARDS[0].format(who=who) for who in ("Corin <c@a.example>", "Amara <amara@b.example>")
    )
    found = find_forwarded(f"See.\n\n{one}\n\nPassing on.\n\n{two}\n\nHoles.", subject="Fwd: Rook")

    assert found
    assert (found.author.address, found.words, found.comment) == (
        "amara@b.example",
        "Holes.",
        "See.",
    )


def test_answered_letter_is_no_forwarded_one():
    """The header block below a reply quotes the desk; the subject says that it is a reply."""
    text = f"New.\n\n{FORWARDS[-1].format(who='Printward <clinic@marrowlane.example>')}\n\nNozzle?"

    assert find_forwarded(text, subject="Re: Rook") is None


def test_attached_letter_is_a_forwarded_one():
    """RFC 2046 section 5.2.1: the attached letter's sender is the owner, its photos the case's."""
    inner = letter("The rook has holes.", sender="Amara <amara@ostler.example>", photos=2)
    outer = (
        b"From: bettine@tarnstreet.example\r\nSubject: Fwd: Rook\r\n"
        b'Content-Type: multipart/mixed; boundary="o"\r\n\r\n--o\r\n\r\nSee.\r\n--o\r\n'
        b"Content-Type: message/rfc822\r\n\r\n" + inner + b"\r\n--o--\r\n"
    )

    read = read_letter(outer)

    assert read.forwarded
    assert read.forwarded.author.address == "amara@ostler.example"
    assert read.words == "See.\n\nThe rook has holes."
    assert len(read.files) == 2


@pytest.mark.parametrize(
    "subject", ["Fwd: Rook", "FW: Rook", "WG: Rook", "TR : Rook", "[club] Fwd: Rook", "RV: Rook"]
)
def test_subjects_that_pass_on(subject):
    """Several languages' marks (common practice, no source)."""
    assert is_forward_subject(subject)


@pytest.mark.parametrize("subject", ["Re: Rook", "Forward tilt", "Rook", "If: only"])
def test_subjects_that_do_not(subject):
    """A reply passes nothing on."""
    assert not is_forward_subject(subject)
