"""A case's reply address is signed and read back."""

import pytest

from helpdesk.outbox.addresses import find_case_id, is_own_address, reply_address


@pytest.fixture(autouse=True)
def _own_address(settings):
    settings.DEFAULT_FROM_EMAIL = "Printward <clinic@marrowlane.example>"


def test_reply_address_is_read_back_whatever_the_case_of_its_letters():
    """A host that changes the case of letters does not break the thread."""
    address = reply_address(4711)

    assert find_case_id(address) == 4711
    assert find_case_id(f"Printward <{address.upper()}>") == 4711


def test_addresses_that_were_never_given_out_are_of_no_case():
    """Neither another case's signature nor another domain opens a case."""
    address = reply_address(4711)

    for forged in (
        address.replace("c4711", "c4712"),
        address.replace("marrowlane", "elsewhere"),
        address.replace("clinic+", "desk+"),
        address.replace("+", ""),
        "clinic+c4711@marrowlane.example",
        "clinic+c4711-aaaaaaaaaaaaaaaa@marrowlane.example",
        "clinic+c0-aaaaaaaaaaaaaaaa@marrowlane.example",
        "",
        "<>",
    ):
        assert find_case_id(forged) is None, forged


def test_signature_depends_on_the_secret(settings):
    """A desk with another secret gives out other addresses."""
    address = reply_address(4711)
    settings.SECRET_KEY = "another secret of the desk, long enough to be one"

    assert find_case_id(address) is None


def test_own_addresses_are_known():
    """Letters the desk sent itself are recognised whatever tag they carry."""
    assert is_own_address("Clinic <CLINIC@marrowlane.example>")
    assert is_own_address(reply_address(1))
    assert not is_own_address("clinic@elsewhere.example")
