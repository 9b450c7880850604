"""Files beside the ledger, each under the digest of its content: written before the entry that names it.

A file is written under another name first, forced to the disk and then renamed, so that what lies under a digest is
whole. One that no entry names yet does no harm. The folder of `department.db` is `department.db.files`.
"""

from __future__ import annotations

import hashlib
import os
import secrets
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Final

import orjson

from reprocess.errors import LedgerError, ReprocessError, TamperedError, WrongUseError
from reprocess.ledger.driver import Cursor, each
from reprocess.ledger.open import Ledger, in_our_words, sync_folder
from reprocess.record.words import FileKept

FILE_BYTES_MAX: Final = 25_000_000
"""Largest file that is kept: a photo or a logger's day, not a film (our choice)."""
HEX: Final = frozenset("0123456789abcdef")
DIGEST_LETTERS: Final = 64
_NAMED: Final = "SELECT feed, body FROM entry WHERE kind = ? ORDER BY feed"


@dataclass(frozen=True, slots=True)
class Named:
    """Is a file that an entry names: the entry's feed number, the digest and the size."""

    feed: int
    digest: str
    size: int


def folder_of(path: Path) -> Path:
    """Returns the folder in which the files of a database lie."""
    return path.with_name(path.name + ".files")


def place_of(folder: Path, digest: str) -> Path:
    """Returns where a file lies: `ab/abcd...`, so that no folder grows too long.

    Raises:
        WrongUseError: it is no SHA-256 digest in hexadecimal.
    """
    if len(digest) != DIGEST_LETTERS or not set(digest) <= HEX:
        message = "A file is named by its SHA-256 digest: 64 letters from 0 to f."
        raise WrongUseError(message)
    return folder / digest[:2] / digest


def keep_file(ledger: Ledger, content: bytes) -> str:
    """Keeps a file and returns its digest; it is on the disk when this returns. An entry names it afterwards.

    Raises:
        WrongUseError: it is empty or too large.
        LedgerError: it cannot be written.
    """
    if not 0 < len(content) <= FILE_BYTES_MAX:
        message = f"A file has from 1 to {FILE_BYTES_MAX} bytes, not {len(content)}."
        raise WrongUseError(message, size=len(content))
    if ledger.server is not None:
        return _put_on_server(ledger, content)
    return _put(folder_of(ledger.path), content)


def read_file(ledger: Ledger, digest: str) -> bytes:
    """Returns a kept file, once it was found to be what its digest says.

    Raises:
        LedgerError: it is missing.
        TamperedError: it was changed.
    """
    if ledger.server is None:
        return _content(folder_of(ledger.path), digest)
    with ledger.reading() as cursor:
        return content_on_server(cursor, digest)


def named(cursor: Cursor) -> Iterator[Named]:
    """Yields every file that an entry names, oldest first; a body that cannot be read is judged elsewhere."""
    for feed, body in each(cursor, _NAMED, (FileKept.kind,)):
        try:
            told = FileKept.model_validate(orjson.loads(body))
        except ValueError:
            continue
        yield Named(int(feed), told.digest, told.size)


def contents_of(ledger: Ledger, cursor: Cursor, folder: Path | None = None) -> Callable[[str], bytes]:
    """Returns what reads a kept file by its digest, inside a transaction; a file from a folder where one is given."""
    if ledger.server is not None:
        return partial(content_on_server, cursor)
    return partial(_content, folder or folder_of(ledger.path))


def amiss(content_of: Callable[[str], bytes], files: Iterable[Named]) -> Iterator[tuple[int, str]]:
    """Yields (feed, sentence) of each named file that is missing, or is not what was kept; each digest once."""
    seen: set[str] = set()
    for one in files:
        if one.digest in seen:
            continue
        seen.add(one.digest)
        try:
            content = content_of(one.digest)
        except ReprocessError as fault:
            yield one.feed, fault.sentence
            continue
        if len(content) != one.size:
            yield one.feed, f"the file {one.digest[:12]} has {len(content)} bytes, the entry says {one.size}"


def copy_all(source: Path, target: Path, files: Iterable[Named]) -> int:
    """Copies the named files from one folder into another and returns how many there are; each is checked on the way.

    A file that is there already is left, since its name is its content.

    Raises:
        LedgerError: one is missing, or cannot be written.
        TamperedError: one was changed.
    """
    digests = {one.digest for one in files}
    for digest in sorted(digests):
        _put(target, _content(source, digest))
    return len(digests)


def content_on_server(cursor: Cursor, digest: str) -> bytes:
    """Returns a file that a server keeps, once it was found to be what its digest says.

    Raises:
        LedgerError: it is missing.
        TamperedError: it was changed.
    """
    row = cursor.execute("SELECT content FROM kept_file WHERE digest = ?", (digest,)).fetchone()
    if row is None:
        message = f"the file {digest[:12]} is missing"
        raise LedgerError(message, digest=digest)
    return _as_named(bytes(row[0]), digest)


def _put_on_server(ledger: Ledger, content: bytes) -> str:
    digest = hashlib.sha256(content).hexdigest()
    with ledger.claiming() as cursor:
        cursor.execute(
            "INSERT INTO kept_file (digest, content) VALUES (?, ?) ON CONFLICT DO NOTHING", (digest, content)
        )
    return digest


def _content(folder: Path, digest: str) -> bytes:
    try:
        content = place_of(folder, digest).read_bytes()
    except OSError as fault:
        message = f"the file {digest[:12]} is missing or cannot be read ({fault.strerror})"
        raise LedgerError(message, digest=digest) from fault
    return _as_named(content, digest)


def _as_named(content: bytes, digest: str) -> bytes:
    if hashlib.sha256(content).hexdigest() != digest:
        message = f"the file {digest[:12]} was changed"
        raise TamperedError(message, digest=digest)
    return content


def _put(folder: Path, content: bytes) -> str:
    digest = hashlib.sha256(content).hexdigest()
    place = place_of(folder, digest)
    if _is_whole(place, digest):
        return digest
    aside = place.with_name(f"{digest}.aside-{secrets.token_hex(4)}")
    try:
        place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        _write(aside, content)
        aside.replace(place)
        for one in (place.parent, folder, folder.parent):
            sync_folder(one)
    except OSError as fault:
        aside.unlink(missing_ok=True)
        raise in_our_words(fault, place) from fault
    return digest


def _is_whole(place: Path, digest: str) -> bool:
    """Tells whether the file is there already and right; one that was spoiled is written anew."""
    try:
        return hashlib.sha256(place.read_bytes()).hexdigest() == digest
    except OSError:
        return False


def _write(place: Path, content: bytes) -> None:
    handle = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
