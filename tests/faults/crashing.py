"""A connection that stops the program at a chosen statement, and what a killed process leaves on the disk."""

from __future__ import annotations

import hashlib
import shutil
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any, Literal, Self

from reprocess.ledger.open import BUSY_MS

SUFFIXES = ("", "-wal", "-shm", ".key")
"""What a department consists of on the disk."""
When = Literal["before", "after"]


class CrashError(BaseException):
    """Is the end of the process, which no handler of errors may survive."""


@dataclass
class Fuse:
    """Counts statements once it is lit, and burns at the chosen one.

    Attributes:
        at: the statement at which to crash, from 1; 0 only counts.
        burn: what is done at that very moment, such as copying the files as a killed process leaves them.
        each: what is done before every statement and after the last one so far.
    """

    at: int = 0
    when: When = "before"
    burn: Callable[[], object] = lambda: None
    each: Callable[[], object] = lambda: None
    lit: bool = False
    count: int = 0
    statements: list[str] = field(default_factory=list)

    def run(self, sql: str, execute: Callable[[], Any]) -> Any:
        """Runs one statement, or crashes before or after it."""
        if not self.lit:
            return execute()
        self.count += 1
        self.each()
        self.statements.append(sql.split(maxsplit=1)[0])
        if self.count == self.at and self.when == "before":
            self._crash()
        done = execute()
        self.each()
        if self.count == self.at and self.when == "after":
            self._crash()
        return done

    def _crash(self) -> None:
        self.lit = False
        self.burn()
        raise CrashError


class _Cursor(sqlite3.Cursor):
    def execute(self, sql: str, parameters: Any = ()) -> Self:
        done: Self = _fuse_of(self).run(sql, partial(super().execute, sql, parameters))
        return done

    def executemany(self, sql: str, parameters: Any) -> Self:
        done: Self = _fuse_of(self).run(sql, partial(super().executemany, sql, parameters))
        return done


def _fuse_of(cursor: sqlite3.Cursor) -> Fuse:
    assert isinstance(cursor.connection, _Connection)
    return cursor.connection.fuse


class _Connection(sqlite3.Connection):
    fuse: Fuse

    def cursor(self, factory: Any = _Cursor) -> Any:
        return super().cursor(factory)


def connecting(fuse: Fuse) -> Callable[[str], sqlite3.Connection]:
    """Returns what opens connections that burn with this fuse."""

    def connect(path: str) -> sqlite3.Connection:
        made = sqlite3.connect(
            path, isolation_level=None, check_same_thread=False, timeout=BUSY_MS / 1000, factory=_Connection
        )
        made.fuse = fuse
        return made

    return connect


def copied(path: Path, folder: Path) -> Path:
    """Copies a department's files as they lie on the disk now, and returns where; only safe between two statements."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    for suffix in SUFFIXES:
        source = path.with_name(path.name + suffix)
        if source.exists():
            shutil.copyfile(source, folder / source.name)
    return folder / path.name


def content(path: Path) -> bytes:
    """Returns a digest of what a database and its log hold; equal ones are the same record in every respect."""
    digest = hashlib.sha256()
    for suffix in ("", "-wal"):
        part = path.with_name(path.name + suffix)
        held = part.read_bytes() if part.exists() else b""
        digest.update(len(held).to_bytes(8, "big") + held)
    return digest.digest()
