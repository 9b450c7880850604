"""Signatures of webhooks, against the specification's own vector and, where it is installed, its reference library."""

from __future__ import annotations

import base64
from datetime import UTC, datetime

import pytest

from reprocess.errors import WrongUseError
from reprocess.reminders.signing import message_id, secret_from, signed

# Standard Webhooks, reference implementation, libraries/go/webhook_test.go, TestWebhookSign
# https://github.com/standard-webhooks/standard-webhooks/blob/449485caf9c0303530c19524fbe4096680aafcf1/libraries/go/webhook_test.go
SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"  # noqa: S105 - published
MESSAGE = "msg_p5jXN8AQM9LWM0D4loKWxJek"
AT_S = 1614265330
BODY = b'{"test": 2432232314}'
SIGNATURE = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


def test_the_published_vector_is_signed_as_published() -> None:
    assert signed([secret_from(SECRET)], MESSAGE, AT_S, BODY) == {
        "webhook-id": MESSAGE,
        "webhook-timestamp": str(AT_S),
        "webhook-signature": SIGNATURE,
    }


def test_while_a_secret_is_exchanged_both_sign() -> None:
    other = b"0" * 32
    headers = signed([other, secret_from(SECRET)], MESSAGE, AT_S, BODY)
    first, second = headers["webhook-signature"].split(" ")
    assert second == SIGNATURE
    assert first != second


@pytest.mark.parametrize(
    "change", [{"message": "msg_other"}, {"at_s": AT_S + 1}, {"body": BODY + b" "}, {"secrets": [b"1" * 24]}]
)
def test_whatever_is_changed_changes_the_signature(change: dict[str, object]) -> None:
    asked = {"secrets": [secret_from(SECRET)], "message": MESSAGE, "at_s": AT_S, "body": BODY} | change
    assert signed(**asked)["webhook-signature"] != SIGNATURE  # type: ignore[arg-type]


def test_the_reference_library_accepts_what_we_sign() -> None:
    library = pytest.importorskip("standardwebhooks", reason="the reference library is not installed")
    body = '{"sentence": "Wet BLW-0041 again now — before the film dries."}'.encode()
    now_s = int(datetime.now(UTC).timestamp())  # noqa: TID251 - the library compares it with the wall clock
    headers = signed([b"0" * 32, secret_from(SECRET)], message_id("T03/item:BLW-0041/2/wet-0", 0), now_s, body)
    assert library.Webhook(SECRET).verify(body, headers)["sentence"].startswith("Wet BLW-0041")


def test_an_id_with_a_full_stop_is_never_signed() -> None:
    """The specification: neither the id nor the time may hold the full stop that parts what is signed."""
    with pytest.raises(ValueError, match="no full stop"):
        signed([secret_from(SECRET)], "a.b", AT_S, BODY)


def test_the_id_of_a_reminder_is_always_the_same_for_its_key_and_level() -> None:
    key = "T03/item:BLW-0041/2/wet-0"
    assert message_id(key, 0) == message_id(key, 0)
    assert len({message_id(key, 0), message_id(key, 1), message_id(f"{key}x", 0)}) == 3
    assert "." not in message_id(key, 0)


# "Random. At least 24 bytes (192 bits, 512 maximum)": spec/standard-webhooks.md, "Signature scheme".
@pytest.mark.parametrize(("length", "good"), [(23, False), (24, True), (64, True), (65, False)])
def test_a_secret_has_24_to_64_bytes(length: int, good: bool) -> None:  # noqa: FBT001
    text = "whsec_" + base64.b64encode(b"s" * length).decode()
    if good:
        assert secret_from(text) == b"s" * length
    else:
        with pytest.raises(WrongUseError, match="24 to 64 bytes"):
            secret_from(text)


def test_a_secret_that_is_not_base64_is_refused_and_not_repeated() -> None:
    with pytest.raises(WrongUseError) as told:
        secret_from("whsec_not base64!")
    assert "not base64" not in str(told.value)
