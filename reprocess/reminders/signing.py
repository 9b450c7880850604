"""Signs what is handed to a webhook, and verifies what is handed to us: ours or theirs, unchanged and not replayed.

Source: the Standard Webhooks specification 1.0.0, "Signature scheme" and "Webhook headers"
(https://github.com/standard-webhooks/standard-webhooks/blob/main/spec/standard-webhooks.md), symmetric scheme `v1`.
"""

from __future__ import annotations

import binascii
import hashlib
import hmac
from base64 import b64decode, b64encode
from collections.abc import Mapping, Sequence
from typing import Final

from reprocess.errors import WrongUseError

PREFIX: Final = "whsec_"
SECRET_BYTES: Final = (24, 64)
"""How long a secret is, in bytes: "at least 24 bytes (192 bits, 512 maximum)", as the specification says."""


def secret_from(text: str) -> bytes:
    """Returns the bytes of a secret as it is written: base64, after `whsec_`.

    Raises:
        WrongUseError: it is not base64, too short or too long; the sentence does not repeat it.
    """
    try:
        secret = b64decode(text.strip().removeprefix(PREFIX), validate=True)
    except binascii.Error as fault:
        message = "A webhook's secret is whsec_ and base64 after it."
        raise WrongUseError(message) from fault
    least, most = SECRET_BYTES
    if not least <= len(secret) <= most:
        message = f"A webhook's secret has {least} to {most} bytes before base64."
        raise WrongUseError(message)
    return secret


def signed(secrets: Sequence[bytes], message: str, at_s: int, body: bytes) -> dict[str, str]:
    """Returns the three headers of a signed request.

    Args:
        secrets: the secret in use first; while one is exchanged for another both sign.
        message: the message's id, the same at every try; it holds no full stop, which parts what is signed.
        at_s: seconds since the epoch, UTC, of this try.
        body: exactly what is sent.

    Raises:
        ValueError: the id holds a full stop.
    """
    if "." in message:
        sentence = f"a message's id holds no full stop: {message}"
        raise ValueError(sentence)
    content = f"{message}.{at_s}.".encode() + body
    signatures = [b64encode(hmac.new(one, content, hashlib.sha256).digest()).decode() for one in secrets]
    return {
        "webhook-id": message,
        "webhook-timestamp": str(at_s),
        "webhook-signature": " ".join(f"v1,{one}" for one in signatures),
    }


TOLERANCE_S: Final = 300
"""How far a message's time may be from ours, in seconds: as the specification's reference libraries have it."""
SIGNATURES_MOST: Final = 10
"""Signatures that are looked at in one header (our choice)."""
ID_MOST: Final = 128
"""Characters of a message's id at most (our choice)."""


def verified(secrets: Sequence[bytes], headers: Mapping[str, str], body: bytes, now_s: int) -> str | None:
    """Returns the id of a signed message, or None where it is not what it says it is; why, it does not say.

    Every secret is tried against every signature, each compared in constant time.

    Args:
        secrets: the sender's secrets; two while one is exchanged for another, none where nobody is known.
        headers: the headers of the request by lower-case name.
        body: exactly what came.
        now_s: seconds since the epoch, UTC.
    """
    message, at, given = (headers.get(f"webhook-{name}", "") for name in ("id", "timestamp", "signature"))
    if not message or "." in message or len(message) > ID_MOST or not message.isascii() or not message.isprintable():
        return None
    if not (at.isascii() and at.isdecimal() and len(at) <= SECONDS_DIGITS) or abs(now_s - int(at)) > TOLERANCE_S:
        return None
    told = [one.removeprefix("v1,").encode() for one in given.split(" ")[:SIGNATURES_MOST] if one.startswith("v1,")]
    content = f"{message}.{at}.".encode() + body
    ours = [b64encode(hmac.new(one, content, hashlib.sha256).digest()) for one in secrets]
    matches = [hmac.compare_digest(own, other) for own in ours for other in told]
    return message if any(matches) else None


SECONDS_DIGITS: Final = 12
"""Digits of a message's time at most; any number of seconds within ten thousand years has fewer."""


def message_id(key: str, level: int) -> str:
    """Returns the id under which a reminder is handed over: always the same for its key and level, and nothing else."""
    digest = hashlib.sha256(f"{level} {key}".encode()).hexdigest()
    return f"reminder-{digest[:32]}"
