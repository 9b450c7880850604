"""The raw limits: what disk and database can do without us."""

from __future__ import annotations

import os
import sqlite3
import time
from pathlib import Path

ROUNDS = 400


def fdatasync_rate(place: Path) -> float:
    """Returns how often a second 8 KiB reach the disk."""
    path = place / "sync.bin"
    with path.open("wb") as file:
        began = time.perf_counter()
        for _ in range(ROUNDS):
            file.write(b"x" * 8192)
            file.flush()
            os.fdatasync(file.fileno())
        return ROUNDS / (time.perf_counter() - began)


def raw_step_rate(place: Path) -> float:
    """Returns how many BEGIN IMMEDIATE, INSERT, UPDATE, COMMIT a second the standard library's driver makes durable."""
    connection = sqlite3.connect(place / "raw.db", isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("CREATE TABLE entry (feed INTEGER PRIMARY KEY, stream TEXT, body TEXT)")
    connection.execute("CREATE TABLE standing (stream TEXT PRIMARY KEY, number INTEGER, state TEXT)")
    connection.executemany("INSERT INTO standing VALUES (?, 0, '')", [(f"item:{one}",) for one in range(ROUNDS)])
    body = "x" * 300
    began = time.perf_counter()
    for number in range(ROUNDS):
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("INSERT INTO entry VALUES (NULL, ?, ?)", (f"item:{number}", body))
        connection.execute(
            "UPDATE standing SET number = number + 1, state = ? WHERE stream = ?", (body, f"item:{number}")
        )
        connection.execute("COMMIT")
    rate = ROUNDS / (time.perf_counter() - began)
    connection.close()
    return rate
