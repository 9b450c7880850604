"""Backup and restore: an online copy by SQLite's own backup, verified before it gets its name.

The key is not part of a backup: whoever holds a copy of the database and the key can write entries that verify. It is
kept apart by a step of its own, `keep_key_apart`.
"""

from __future__ import annotations

import os
import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from reprocess.errors import LedgerError, TamperedError
from reprocess.ledger import erasures, files, migrate
from reprocess.ledger.keys import Keys, keys_in
from reprocess.ledger.open import (
    KEY_BYTES,
    Ledger,
    connected,
    in_our_words,
    keep_key,
    key_path,
    sync_folder,
)
from reprocess.ledger.verify import Report, verify

CAUTION: Final = (
    "Keep the key apart from the backups, under lock: who holds both can write entries that verify; without the key "
    "the record can be read but neither verified nor continued. A backup holds the names of wearers: keep it no longer "
    "than it is needed."
)


ON_SERVER: Final = (
    "A department on a server is copied with the server's own tools (pg_basebackup, pg_dump); nothing was copied. "
    "Afterwards run `reprocess verify --full` on the restored copy."
)
"""What is said where a copy of ours would not be what the server can make."""


@dataclass(frozen=True, slots=True)
class Copied:
    """Is a finished, verified copy of a record.

    Attributes:
        entries: how many entries it holds; the last of them has this number in the feed.
        last_us: when the last one was recorded; what was recorded later is not in the copy.
    """

    path: Path
    entries: int
    last_us: int | None


def backup(ledger: Ledger, target: Path) -> Copied:
    """Copies a record while others go on writing, and returns the copy once it is verified and on the disk.

    The copy is what stood at one instant. Until it is verified it has another name, so that a copy under its own
    name is always whole.

    Raises:
        LedgerError: the target exists, or cannot be written; nothing of that name was made.
        TamperedError: the copy does not verify, because the record does not.
    """
    if ledger.server is not None:
        raise LedgerError(ON_SERVER)
    _must_be_free(target)
    with _unfinished(target) as copy:
        with ledger.cursor() as cursor:
            _copy(cursor.connection, copy, target)
        report = _verified(copy, ledger.ring.latest(), files.folder_of(ledger.path), files.folder_of(target))
        _name(copy, target)
    return Copied(target, report.entries, report.last_us)


def keep_key_apart(ledger: Ledger, target: Path) -> None:
    """Copies every key to a new file that its owner alone can read; see `CAUTION`.

    Raises:
        LedgerError: the target exists, or cannot be written.
    """
    _must_be_free(target)
    try:
        keep_key(ledger.ring.latest().as_bytes(), target)
    except OSError as fault:
        raise in_our_words(fault, target) from fault


def restore(copy: Path, key: Path, path: Path, erased: Path | None = None) -> Copied:
    """Makes a department from a backup and its key, and returns it once it is verified.

    A name that was erased after the backup was made stays erased where the list of erased names is still there: beside
    the department, or given as `erased`.

    Raises:
        LedgerError: there is a department already, a file is missing, or cannot be written; nothing was changed.
        TamperedError: the backup does not verify with this key; nothing was made.
    """
    _must_be_free(path)
    _must_be_free(key_path(path))
    secret = _secret(key)
    with _unfinished(path) as unfinished:
        with _opened_for_reading(copy) as source:
            _copy(source, unfinished, path)
        lists = [*erasures.listed(erasures.list_path(path)), *(erasures.listed(erased) if erased is not None else [])]
        report = _verified(unfinished, secret, files.folder_of(copy), files.folder_of(path), lists)
        try:
            keep_key(secret.as_bytes(), key_path(path))
        except OSError as fault:
            raise in_our_words(fault, key_path(path)) from fault
        try:
            _name(unfinished, path)
        except LedgerError:
            key_path(path).unlink(missing_ok=True)
            raise
    erasures.keep(path, lists)
    return Copied(path, report.entries, report.last_us)


def _must_be_free(target: Path) -> None:
    if target.exists() or target.is_symlink():
        message = f"{target} exists already and is never overwritten; nothing was changed."
        raise LedgerError(message, path=str(target))


def _secret(key: Path) -> Keys:
    try:
        content = key.read_bytes()
    except OSError as fault:
        message = f"The key {key} cannot be read ({fault.strerror or fault}); nothing was changed."
        raise LedgerError(message, path=str(key)) from fault
    keys = keys_in(content)
    if keys is None:
        message = f"{key} does not hold {KEY_BYTES} bytes a key and is no key; nothing was changed."
        raise LedgerError(message, path=str(key))
    return keys


@contextmanager
def _unfinished(target: Path) -> Iterator[Path]:
    """Yields a new, empty file beside the target, for its owner alone; removes what is left of it at the end."""
    copy = target.with_name(f"{target.name}.unfinished-{secrets.token_hex(4)}")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        os.close(os.open(copy, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    except OSError as fault:
        raise in_our_words(fault, target) from fault
    try:
        yield copy
    finally:
        for suffix in ("", "-wal", "-shm", "-journal"):
            copy.with_name(copy.name + suffix).unlink(missing_ok=True)


def _copy(source: sqlite3.Connection, copy: Path, target: Path) -> None:
    """Copies what stands in the source at one instant, whole, and waits until it is on the disk."""
    try:
        written = sqlite3.connect(copy, isolation_level=None)
        try:
            source.backup(written)
        finally:
            written.close()
        with copy.open("rb+") as file:
            os.fsync(file.fileno())
    except (sqlite3.Error, OSError) as fault:
        raise in_our_words(fault, target) from fault


def _verified(copy: Path, keys: Keys, source: Path, target: Path, erased: list[str] | None = None) -> Report:
    """Returns what verifying a copy found; before that its files are copied along, and erased names are erased.

    Args:
        copy: the database.
        keys: its keys.
        source: the folder that its files lie in.
        target: the folder that they are copied to.
        erased: the wearers whose names were erased meanwhile; None where the copy is kept as it is.
    """
    ledger = connected(copy, keys)
    try:
        with ledger.writing() as cursor:
            migrate.to_current(cursor, fresh=False)
            if erased is not None:
                erasures.obey(cursor, erased)
            files.copy_all(source, target, list(files.named(cursor)))
        report = verify(ledger, folder=target)
    finally:
        ledger.close()
    if not report.sound:
        first = report.findings[0]
        message = f"The copy does not verify with this key and was not kept: entry {first.feed}, {first.sentence}."
        raise TamperedError(message, feed=first.feed)
    if not report.entries:
        message = "The copy holds no entry and was not kept."
        raise LedgerError(message)
    return report


def _name(copy: Path, target: Path) -> None:
    """Gives a finished file its name unless that was taken meanwhile, and waits until the name is on the disk."""
    try:
        try:
            target.hardlink_to(copy)
        except FileExistsError:
            raise
        except OSError:  # a file system without links, such as that of a memory stick
            _must_be_free(target)
            copy.rename(target)
        sync_folder(target.parent)
    except FileExistsError as fault:
        message = f"{target} was made by somebody else meanwhile and is not overwritten."
        raise LedgerError(message, path=str(target)) from fault
    except OSError as fault:
        raise in_our_words(fault, target) from fault


@contextmanager
def _opened_for_reading(copy: Path) -> Iterator[sqlite3.Connection]:
    """Yields a connection to a backup that writes nothing beside it, so that it may lie on a read-only disk.

    A file that was copied by hand while in use has a log beside it; then both are read, which needs a writable disk.
    """
    if not copy.is_file():
        message = f"There is no backup in {copy}; nothing was changed."
        raise LedgerError(message, path=str(copy))
    log = copy.with_name(copy.name + "-wal")
    mode = "mode=ro" if log.exists() and log.stat().st_size else "mode=ro&immutable=1"
    try:
        source = sqlite3.connect(f"{copy.resolve().as_uri()}?{mode}", uri=True, isolation_level=None)
        try:
            yield source
        finally:
            source.close()
    except (sqlite3.Error, OSError) as fault:
        raise in_our_words(fault, copy) from fault
