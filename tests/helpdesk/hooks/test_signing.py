"""Signatures, against the Standard Webhooks specification 1.0.0 and its libraries' tests.

The secret, id, time and signature are those of the Go and C# tests of the specification's
repository, the list of signatures and the bad ones those of its Python tests.
"""

import base64
from typing import Any

import pytest

from helpdesk.hooks.signing import (
    BadSecretError,
    SignatureError,
    make_headers,
    make_secret,
    read_secret,
    sign,
    verify,
)

SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
ID = "msg_p5jXN8AQM9LWM0D4loKWxJek"
TIME = 1614265330
BODY = b'{"test": 2432232314}'
SIGNATURE = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="
OTHER = "v1,Ceo5qEr07ixe2NLpvHk3FH9bwy/WavXrAFQ/9tdO6mc="


def check(
    signature: str = SIGNATURE,
    *,
    message_id: str = ID,
    stamp: str = str(TIME),
    body: bytes = BODY,
    now_s: float = TIME,
    secret: str = SECRET,
) -> None:
    """Verify a message made of the published parts."""
    headers = {
        "webhook-id": message_id,
        "webhook-timestamp": stamp,
        "webhook-signature": signature,
    }
    verify([read_secret(secret)], headers, body, now_s=now_s)


def test_signature_is_the_published_one() -> None:
    assert sign(read_secret(SECRET), message_id=ID, timestamp=TIME, body=BODY) == SIGNATURE


def test_published_message_is_taken() -> None:
    check()


def test_secret_without_its_prefix_is_the_same() -> None:
    """The specification's libraries take both."""
    check(secret=SECRET.removeprefix("whsec_"))


@pytest.mark.parametrize(
    "listed", [f"{OTHER} {SIGNATURE}", f"{SIGNATURE} {OTHER}", f"v1a,x {SIGNATURE}"]
)
def test_one_good_signature_of_a_list_is_enough(listed: str) -> None:
    check(listed)


@pytest.mark.parametrize(
    "signature",
    [
        "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OA=",
        OTHER,
        SIGNATURE.replace("v1,", "v2,"),
        SIGNATURE.replace("v1,", "v1a,"),
        SIGNATURE.removeprefix("v1,"),
        SIGNATURE.rstrip("="),
        "v1",
        "v1,",
        "v1,a,b",
        ",",
        " ",
        "v1," + "é" * 44,
        "v1,\ud800",
        "v1," + "." * 44,
        " ".join([OTHER] * 500),
    ],
)
def test_wrong_or_odd_signature_is_refused(signature: str) -> None:
    """Among them those on which the reference Python library raises ValueError."""
    with pytest.raises(SignatureError, match="No signature fits"):
        check(signature)


@pytest.mark.parametrize(
    "change",
    [
        {"body": b'{"test": 2432232315}'},
        {"body": b'{"test":2432232314}'},
        {"body": b"\xff\xfe"},
        {"message_id": ID + "x"},
        {"stamp": str(TIME + 1)},
    ],
)
def test_changed_message_is_refused(change: dict[str, Any]) -> None:
    """One byte changed, a body written anew, another id or time."""
    with pytest.raises(SignatureError, match="No signature fits"):
        check(**change)


@pytest.mark.parametrize(
    "change",
    [
        {"message_id": ""},
        {"message_id": "a b"},
        {"message_id": "é"},
        {"message_id": "x" * 201},
        {"stamp": ""},
        {"stamp": "soon"},
        {"stamp": "-1"},
        {"stamp": "1e9"},
        {"stamp": "١٦"},
        {"stamp": "9" * 4400},
        {"signature": ""},
    ],
)
def test_missing_or_odd_header_is_refused(change: dict[str, Any]) -> None:
    with pytest.raises(SignatureError, match="are needed"):
        check(**change)


@pytest.mark.parametrize("skew_s", [-300, -299, 0, 299, 300])
def test_clock_may_differ_by_five_minutes_either_way(skew_s: int) -> None:
    check(now_s=TIME + skew_s)


@pytest.mark.parametrize("skew_s", [-301, 301, -86_400, 86_400])
def test_clock_may_not_differ_by_more(skew_s: int) -> None:
    with pytest.raises(SignatureError, match="too far"):
        check(now_s=TIME + skew_s)


@pytest.mark.parametrize("size", [24, 32, 64])
def test_secret_has_24_to_64_bytes(size: int) -> None:
    assert len(read_secret("whsec_" + base64.b64encode(bytes(size)).decode())) == size


@pytest.mark.parametrize("size", [0, 16, 23, 65])
def test_secret_of_another_length_is_refused(size: int) -> None:
    with pytest.raises(BadSecretError, match="24 to 64 bytes"):
        read_secret("whsec_" + base64.b64encode(bytes(size)).decode())


@pytest.mark.parametrize("text", ["whsec_***", "whsec_abc", "whsec_é"])
def test_secret_that_is_not_base64_is_refused(text: str) -> None:
    with pytest.raises(BadSecretError):
        read_secret(text)


def test_new_secrets_differ_and_can_be_read() -> None:
    first, second = make_secret(), make_secret()

    assert first != second
    assert len(read_secret(first)) == 32


def test_two_secrets_sign_both_and_either_side_may_hold_one() -> None:
    """While a secret is changed the receiver may know the old one or the new one."""
    old, new = read_secret(make_secret()), read_secret(make_secret())
    headers = make_headers([new, old], message_id=ID, timestamp=TIME, body=BODY)

    assert verify([old], headers, BODY, now_s=TIME).message_id == ID
    assert verify([new], headers, BODY, now_s=TIME).timestamp == TIME
    with pytest.raises(SignatureError):
        verify([read_secret(make_secret())], headers, BODY, now_s=TIME)
