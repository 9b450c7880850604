"""The chain: a digest over each entry and the one before it in its stream, and a MAC over the digest.

The digest is SHA-256 over a zero byte and the canonical bytes, the leaf hash of RFC 6962 section 2.1, so that a Merkle
tree over all entries needs no second hash. The MAC is HMAC-SHA-256 over the digest, with a key that lies outside the
database: whoever can edit the database but does not hold the key cannot make an entry that verifies. A cut tail is not
found by either; that takes a tree head kept elsewhere.
"""

from __future__ import annotations

import hashlib
import hmac
from typing import Final

from reprocess.record.form import Row, canonical

LEAF: Final = b"\x00"
START: Final = bytes(32)
"""The `prev` of the first entry of a stream."""


def digest_of(row: Row) -> bytes:
    """Returns the 32-byte digest of a row of hashed columns."""
    return hashlib.sha256(LEAF + canonical(row)).digest()


def mac_of(digest: bytes, key: bytes) -> bytes:
    """Returns the 32-byte MAC of a digest under the ledger's key."""
    return hmac.digest(key, digest, "sha256")
