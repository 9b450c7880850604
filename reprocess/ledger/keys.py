"""The record's MAC keys: one after the other in one file outside the database, the newest of them in use.

Which key is in use, the record says itself (`record.keys.Sealing`). A process that finds a key there that it does not
know reads the file again. So a rotation needs no restart, and one that broke off leaves a key that nothing uses yet.
"""

from __future__ import annotations

import hashlib
import os
import secrets
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from reprocess.errors import LedgerError
from reprocess.ledger.disk import KEY_BYTES, of_the_disk, sync_folder
from reprocess.ledger.driver import Cursor, each
from reprocess.record.chain import mac_of
from reprocess.record.keys import KEYS_MAX, Sealing

ID_DIGITS: Final = 16
"""Hexadecimal digits by which keys are told apart (64 bits of the SHA-256 of 32 random bytes)."""


@dataclass(frozen=True, slots=True)
class Keys:
    """Is the record's keys: the first one has number 1, the last one is the newest.

    Attributes:
        secrets: 32 bytes each.
    """

    secrets: tuple[bytes, ...] = field(repr=False)

    @property
    def newest(self) -> int:
        """Returns the number of the newest key."""
        return len(self.secrets)

    @property
    def root(self) -> bytes:
        """Returns key 1, which no rotation changes: the pepper of the PINs and what seals secrets come from it.

        Were they derived from the newest key, every PIN and every sealed secret would be lost with a rotation.
        """
        return self.secrets[0]

    def of(self, number: int) -> bytes | None:
        """Returns the key of a number, or None where there is none."""
        return self.secrets[number - 1] if 1 <= number <= len(self.secrets) else None

    def id_of(self, number: int) -> str | None:
        """Returns what a key is told apart by, which gives nothing of it away; None where there is none."""
        key = self.of(number)
        return None if key is None else hashlib.sha256(key).hexdigest()[:ID_DIGITS]

    def begin_with(self, other: Keys) -> bool:
        """Tells whether these are the other keys, or the other keys and more."""
        return self.secrets[: other.newest] == other.secrets

    def as_bytes(self) -> bytes:
        """Returns the content of the key file."""
        return b"".join(self.secrets)


class Ring:
    """Holds the keys of an open record, and the file that they come from.

    Attributes:
        keys: the keys as they were read last.
        place: the key file; a copy that is only verified has none.
        name: how the record is called in sentences.
    """

    def __init__(self, keys: Keys, place: Path, name: str) -> None:
        self.keys = keys
        self.place = place
        self.name = name
        self._fit: Keys | None = None

    def latest(self) -> Keys:
        """Returns the keys as the file holds them now; as they were read last where there is no such file."""
        with suppress(LedgerError):
            self.keys = read_keys(self.place, self.name)
        return self.keys

    def sealing(self, number: int, key_id: str | None) -> bytes:
        """Returns the key with which entries are sealed now.

        Args:
            number: the newest key that the record names.
            key_id: what the record tells it apart by; None for the first key.

        Raises:
            LedgerError: the key file of this computer does not hold it.
        """
        key = self._fitting(number, key_id)
        if key is None:
            self.keys = read_keys(self.place, self.name)
            key = self._fitting(number, key_id)
        if key is None:
            message = (
                f"{self.name} goes on with key {number}, which {self.place.name} lacks; nothing was recorded. "
                "Copy the key file to this computer."
            )
            raise LedgerError(message, path=str(self.place), key=number)
        return key

    def must_fit(self, cursor: Cursor, last: int) -> None:
        """Raises where neither the first nor the last entry is sealed with these keys: they are another record's.

        Looked up once for the keys that are held. On a server the key file is named apart from the database, and the
        number of the last entry is kept apart from the entries.

        Raises:
            LedgerError: the key file is another record's, or there is no such last entry.
        """
        if self._fit == self.keys:
            return
        ends = cursor.execute(_ENDS, (last,)).fetchall()
        if last and last not in [feed for feed, *_ in ends]:
            message = f"{self.name} lacks its last entry, {last}; nothing was recorded. `reprocess verify` tells more."
            raise LedgerError(message)
        keys = [(digest, mac, self.keys.of(number)) for _, digest, mac, number in ends]
        if ends and not any(key is not None and mac_of(digest, key) == mac for digest, mac, key in keys):
            message = (
                f"{self.name} was not written with the key in {self.place.name}; nothing was recorded. Name its own."
            )
            raise LedgerError(message, path=str(self.place))
        self._fit = self.keys

    def _fitting(self, number: int, key_id: str | None) -> bytes | None:
        keys = self.keys
        return keys.of(number) if key_id is None or keys.id_of(number) == key_id else None

    def following(self, number: int) -> Keys | None:
        """Returns the keys with one more than `number`, or None where no further one can be; nothing is written.

        A rotation that broke off left that key in the file; then it is this one.

        Raises:
            LedgerError: the key file cannot be read.
        """
        keys = read_keys(self.place, self.name)
        if keys.newest > number:
            return keys
        return Keys((*keys.secrets, secrets.token_bytes(KEY_BYTES))) if number < KEYS_MAX else None

    def keep(self, keys: Keys) -> None:
        """Writes the key file, whole or not at all, and waits until it is on the disk.

        Raises:
            LedgerError: it cannot be written.
        """
        replace_keys(keys, self.place)
        self.keys = keys


def new_keys() -> Keys:
    """Returns a first key for a new record."""
    return Keys((secrets.token_bytes(KEY_BYTES),))


def read_keys(place: Path, name: str) -> Keys:
    """Returns the keys of the record that is called `name`.

    Raises:
        LedgerError: the file is missing, cannot be read, or holds no keys.
    """
    if not place.exists():
        message = f"The key {place.name} is missing beside {name}; the record cannot be continued."
        raise LedgerError(message, path=str(place))
    try:
        content = place.read_bytes()
    except OSError as fault:
        message = f"The key {place.name} cannot be read ({fault.strerror or fault}); the record cannot be continued."
        raise LedgerError(message, path=str(place)) from fault
    keys = keys_in(content)
    if keys is None:
        message = f"{place.name} does not hold {KEY_BYTES} bytes a key; the record cannot be continued."
        raise LedgerError(message, path=str(place))
    return keys


def keys_in(content: bytes) -> Keys | None:
    """Returns the keys that a file's content is, or None where it is none."""
    count, rest = divmod(len(content), KEY_BYTES)
    if rest or not 1 <= count <= KEYS_MAX:
        return None
    return Keys(tuple(content[at * KEY_BYTES : (at + 1) * KEY_BYTES] for at in range(count)))


def replace_keys(keys: Keys, place: Path) -> None:
    """Writes a key file beside the one that is there, and puts it in its place; only its owner can read it.

    Called by one writer at a time. The owner of the file stays the one it had, where that may be set.

    Raises:
        LedgerError: it cannot be written; the file is as it was.
    """
    own = place.resolve()
    aside = own.with_name(f"{own.name}.aside")
    try:
        aside.unlink(missing_ok=True)
        try:
            _write(aside, keys.as_bytes(), own.stat())
            aside.replace(own)
        finally:
            aside.unlink(missing_ok=True)
        sync_folder(own.parent)
    except OSError as fault:
        raise of_the_disk(fault, place) from fault


def _write(aside: Path, content: bytes, like: os.stat_result) -> None:
    handle = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as file:
        if os.name == "posix":
            with suppress(PermissionError):
                os.fchown(handle, like.st_uid, like.st_gid)
        file.write(content)
        file.flush()
        os.fsync(handle)


@dataclass(frozen=True, slots=True)
class Listed:
    """Is one key, as the record and the key file know it.

    Attributes:
        key_id: what it is told apart by; None where neither knows it.
        since_us: since when it seals or sealed the record; None where it never did.
        by: the two people who began it; nobody where the record was founded with it.
        entries: how many entries are sealed with it.
        held: whether the key file holds it.
    """

    number: int
    key_id: str | None
    since_us: int | None
    by: tuple[str, ...]
    entries: int
    held: bool


def listed(cursor: Cursor, keys: Keys, sealing: Sealing) -> list[Listed]:
    """Returns every key that the record names or the key file holds, the first one first; entries are counted."""
    counts = {int(number): int(count) for number, count in cursor.execute(_COUNTS).fetchall()}
    first = cursor.execute(_FOUNDED).fetchone()
    begun = {one.number: one for one in sealing.begun}
    found = []
    for number in range(1, max(keys.newest, sealing.newest) + 1):
        one, own = begun.get(number), keys.id_of(number)
        since_us = one.since_us if one is not None else (first[0] if first is not None and number == 1 else None)
        by = tuple(name for name in (one.by, one.second) if name is not None) if one is not None else ()
        key_id = one.key_id if one is not None else own
        held = own is not None and own == key_id
        found.append(Listed(number, key_id, since_us, by, counts.get(number, 0), held))
    return found


_ENDS: Final = "SELECT feed, digest, mac, mac_key FROM entry WHERE feed IN (1, ?)"
_COUNTS: Final = "SELECT mac_key, count(*) FROM entry GROUP BY mac_key"
_FOUNDED: Final = "SELECT recorded_us FROM entry ORDER BY feed LIMIT 1"
_DIGESTS: Final = "SELECT digest FROM entry WHERE feed < ? ORDER BY feed"


def digest_before(cursor: Cursor, feed: int) -> str:
    """Returns the SHA-256 over the digests of all entries before one, in the order of the feed."""
    past = hashlib.sha256()
    for (digest,) in each(cursor, _DIGESTS, (feed,)):
        past.update(digest)
    return past.hexdigest()
