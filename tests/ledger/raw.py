"""The database behind the ledger's back: as a file, or as the role that owns the tables."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from reprocess.ledger.address import Server
from reprocess.ledger.open import Ledger, key_path
from reprocess.ledger.postgres import ServerConnection, ServerCursor
from tests.postgres import OWNER, SERVICE


@contextmanager
def raw(place: Path | Server) -> Iterator[Any]:
    """Yields a cursor inside a transaction that is committed at the end; statements are written as for SQLite."""
    if isinstance(place, Server):
        connection: Any = ServerConnection.connect(place.owner or "", autocommit=True)
        connection.cursor_factory = ServerCursor
    else:
        connection = sqlite3.connect(place, isolation_level=None)
    try:
        cursor = connection.cursor()
        cursor.execute("BEGIN")
        yield cursor
        cursor.execute("COMMIT")
    finally:
        connection.close()


def asked(place: Path | Server, text: str, *values: Any) -> list[tuple[Any, ...]]:
    """Returns what a query finds."""
    with raw(place) as cursor:
        found: list[tuple[Any, ...]] = cursor.execute(text, values).fetchall()
    return found


def place_of(ledger: Ledger) -> Path | Server:
    """Returns where an open record is, with the owner of its tables where it is on a server."""
    if ledger.server is None:
        return ledger.path
    address = ledger.server.address
    return Server(address, key_path(ledger.path), address.replace(f"{SERVICE}@", f"{OWNER}@", 1))
