"""Signs what is handed to a webhook, so that its receiver can tell that it is ours, unchanged and not replayed.

Source: the Standard Webhooks specification 1.0.0, "Signature scheme" and "Webhook headers"
(https://github.com/standard-webhooks/standard-webhooks/blob/main/spec/standard-webhooks.md), symmetric scheme `v1`.
"""

from __future__ import annotations

import binascii
import hashlib
import hmac
from base64 import b64decode, b64encode
from collections.abc import Sequence
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


def message_id(key: str, level: int) -> str:
    """Returns the id under which a reminder is handed over: always the same for its key and level, and nothing else."""
    digest = hashlib.sha256(f"{level} {key}".encode()).hexdigest()
    return f"reminder-{digest[:32]}"
