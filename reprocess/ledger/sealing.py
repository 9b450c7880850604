"""Seals what must be kept but not be read from a copy of the database: AES-256-GCM under a key that lies beside it.

The key is derived from the record's own one (HKDF, RFC 5869), so that there is no other file to lose.
"""

from __future__ import annotations

import secrets
from typing import Final

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from reprocess.errors import LedgerError

NONCE_BYTES: Final = 12
"""NIST SP 800-38D, section 8.2.1: 96 bits."""
KEY_BYTES: Final = 32
INFO: Final = b"reprocess: secrets of subscriptions"


def seal(key: bytes, about: str, secret: bytes) -> bytes:
    """Returns a secret sealed; it opens only with the same key and for the same subject."""
    nonce = secrets.token_bytes(NONCE_BYTES)
    return nonce + AESGCM(_derived(key)).encrypt(nonce, secret, about.encode())


def unseal(key: bytes, about: str, sealed: bytes) -> bytes:
    """Returns a secret that was sealed for a subject.

    Raises:
        LedgerError: it was sealed under another key or for something else, or it was changed.
    """
    try:
        return AESGCM(_derived(key)).decrypt(sealed[:NONCE_BYTES], sealed[NONCE_BYTES:], about.encode())
    except InvalidTag as fault:
        message = f"The secret kept for {about} cannot be opened; exchange it for a new one."
        raise LedgerError(message, subject=about) from fault


def _derived(key: bytes) -> bytes:
    return HKDF(algorithm=SHA256(), length=KEY_BYTES, salt=None, info=INFO).derive(key)
