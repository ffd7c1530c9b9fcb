"""One written form of addresses, against the standards that say which spellings are the same."""

import pytest

from helpdesk.people.addresses import handle_key, link_key, mail_key, place_key


@pytest.mark.parametrize(
    "link",
    [
        "http://example.com",
        "http://example.com/",
        "http://example.com:/",
        "http://example.com:80/",
        "HTTP://EXAMPLE.com/",
    ],
)
def test_link_key_knows_the_equal_spellings_of_rfc_3986(link):
    """RFC 3986 section 6.2.3 lists the first four, section 6.2.2.1 the last, as equivalent."""
    assert link_key(link) == "http://example.com/"


def test_link_key_keeps_what_may_differ():
    """RFC 3986 section 6.2.2.1: only scheme and host are without case."""
    assert link_key("https://a.example/P?q=1#top") == "https://a.example/P?q=1"
    assert link_key("https://a.example/P") != link_key("https://a.example/p")
    assert link_key("https://a.example:8443/") == "https://a.example:8443/"
    assert link_key("https://a.example:port/x") == "https://a.example/x"


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Juliet@Example.com", "juliet@example.com"),  # RFC 1035 2.3.3: domains have no case
        ("fu\u00dfball@b\u00fccher.example", "fu\u00dfball@xn--bcher-kva.example"),  # RFC 3492, 7.1
        ("Juliet <juliet@example.com>", "juliet@example.com"),  # RFC 5322 3.4: a name is no address
        ("juliet@example.com.", "juliet@example.com"),
    ],
)
def test_mail_key_of_the_same_address(one, other):
    assert mail_key(one) == mail_key(other)


def test_mail_key_takes_no_guess_at_what_a_host_means_by_a_tag():
    """RFC 5233: what follows a plus is for the host to read, so these may be two people."""
    assert mail_key("kiln+a@example.com") != mail_key("kiln@example.com")


@pytest.mark.parametrize("address", ["", "kiln", "@example.com", "kiln@", "   "])
def test_mail_key_of_no_address_is_nothing(address):
    assert mail_key(address) == ""


def test_handle_key_maps_width_and_case():
    """RFC 8265 section 3.3.2: width, then case, then composition (NFC)."""
    assert handle_key("\uff21lex") == "alex"
    assert handle_key("@Kiln_7") == "kiln_7"
    assert handle_key("Jose\u0301") == "jos\u00e9"
    assert handle_key("\u03a3") == "\u03c3"  # RFC 8265 section 3.5, table 1, rows 5 and 6


def test_handle_key_keeps_apart_what_only_looks_alike():
    """RFC 8265 section 3.5: fussball and fu\u00dfball, and Cyrillic letters, are other users."""
    assert handle_key("fussball") != handle_key("fu\u00dfball")
    assert handle_key("\u0430lex") != handle_key("alex")


def test_place_key_ignores_case_and_spaces():
    """Common practice, no source: a place is typed by hand."""
    assert place_key("  Marrow  Lane CHAT ") == place_key("marrow lane chat")
