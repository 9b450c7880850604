"""Entries as plain dicts, read from the database file with the standard library alone."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

Row = dict[str, Any]
"""One entry: its columns by name; `body` is a dict, and `moment` holds wall, mono, running, boot and node."""

COLUMNS = (
    "feed, stream, number, kind, occurred_us, recorded_us, mono_us, running_us, boot, node, actor, second, station, "
    "request_key, body"
)


def rows_of(connection: sqlite3.Connection, after: int = 0) -> Iterator[Row]:
    """Yields the entries behind a feed number, in the order of the feed."""
    found = connection.execute(f"SELECT {COLUMNS} FROM entry WHERE feed > ? ORDER BY feed", (after,))  # noqa: S608
    for feed, stream, number, kind, occurred, wall, mono, running, boot, node, *rest in found:
        actor, second, station, key, body = rest
        yield {
            "feed": feed,
            "stream": stream,
            "number": number,
            "kind": kind,
            "occurred_us": occurred,
            "moment": (wall, mono, running, boot, node),
            "actor": actor,
            "second": second,
            "station": station,
            "key": key,
            "body": json.loads(body),
        }


def raw_rows(path: Path) -> list[tuple[Any, ...]]:
    """Returns every column of every entry, seals included, in the order of the feed."""
    connection = sqlite3.connect(path)
    try:
        return connection.execute("SELECT * FROM entry ORDER BY feed").fetchall()
    finally:
        connection.close()
