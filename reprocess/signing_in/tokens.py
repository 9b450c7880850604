"""Secrets that open a door: how a session's id, a program's token and a screen's are made, recognised and kept.

Each begins with a word of our own, by which scanners of source code find one that leaked, and ends with a checksum, so
that a mistyped one costs no look into the record. 32 random bytes need no slow hash: nobody tries 2^256 of them.
"""

from __future__ import annotations

import hashlib
import secrets
import zlib
from typing import Final

TOKEN: Final = "rpt_"  # noqa: S105 - how a token begins
SESSION: Final = "rps_"
SCREEN: Final = "rpn_"
RANDOM_BYTES: Final = 32
"""256 bits; OWASP ASVS 5.0, 7.2.3 asks for 128 at least (from memory)."""
_ALPHABET: Final = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
_LONG: Final = 43
"""Digits of base 62 that 256 bits need."""
_SHORT: Final = 6
"""Digits of base 62 that the 32 bits of the checksum need."""


def new(prefix: str) -> str:
    """Returns a new secret; it is shown once and kept nowhere."""
    body = _base62(int.from_bytes(secrets.token_bytes(RANDOM_BYTES)), _LONG)
    return f"{prefix}{body}{_sum(prefix + body)}"


def is_like(secret: str, prefix: str) -> bool:
    """Tells whether a text can be such a secret at all: its beginning, its length, its letters and its checksum."""
    body, told = secret[:-_SHORT], secret[-_SHORT:]
    whole = len(secret) == len(prefix) + _LONG + _SHORT and secret.isascii() and secret[len(prefix) :].isalnum()
    return whole and secret.startswith(prefix) and _sum(body) == told


def digest_of(secret: str) -> str:
    """Returns what is kept of a secret: its SHA-256, in hexadecimal."""
    return hashlib.sha256(secret.encode()).hexdigest()


def _sum(text: str) -> str:
    return _base62(zlib.crc32(text.encode()), _SHORT)


def _base62(number: int, digits: int) -> str:
    found = []
    for _ in range(digits):
        number, digit = divmod(number, len(_ALPHABET))
        found.append(_ALPHABET[digit])
    return "".join(reversed(found))
