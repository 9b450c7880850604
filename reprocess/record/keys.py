"""The standing of the record's own keys: which one seals its entries, and since when."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from reprocess.record import words
from reprocess.record.entry import Entry
from reprocess.terms import StreamKind, stream, subject_of

KEYS: Final = stream(StreamKind.KEY, "record")
"""The one stream that says which key seals the record."""
KEYS_MAX: Final = 16
"""Keys that one record can have had (our choice: one a year outlasts the equipment)."""


@dataclass(frozen=True, slots=True)
class NewKey:
    """Is the key that a rotation would begin.

    Attributes:
        key_id: what it is told apart by (see `words.KeyRotated`).
        before: the digest over all entries that stand before it.
    """

    number: int
    key_id: str
    before: str


@dataclass(frozen=True, slots=True)
class Begun:
    """Is a key that began with a rotation: since when, and which two people began it."""

    number: int
    key_id: str
    since_us: int
    by: str | None = None
    second: str | None = None


@dataclass(frozen=True, slots=True)
class Sealing:
    """Is how the record is sealed.

    Attributes:
        begun: the keys that followed the first one, oldest first; key 1 has sealed the record since its founding.
    """

    record: str
    begun: tuple[Begun, ...] = ()
    number: int = 0

    @property
    def newest(self) -> int:
        """Returns the number of the key that seals every entry from now on."""
        return self.begun[-1].number if self.begun else 1

    @property
    def key_id(self) -> str | None:
        """Returns the id of that key; of the first one the record says nothing."""
        return self.begun[-1].key_id if self.begun else None


def apply(sealing: Sealing, entry: Entry) -> Sealing:
    """Returns how the record is sealed after one more entry of the stream."""
    body, envelope = entry.body, entry.envelope
    after = replace(sealing, record=subject_of(entry.stream), number=entry.number)
    if not isinstance(body, words.KeyRotated):
        return after
    begun = Begun(body.number, body.key_id, entry.at_us, envelope.actor, envelope.second)
    return replace(after, begun=(*sealing.begun, begun))
